/**
 * Every word the tablet shows, in one place. W1 to W10 are fixed: a company may translate
 * them, not soften them. On a moving page stand only `frame`, `card` and W9.
 */

import { outbox } from "./en-outbox.js";
import { en as enrol } from "./enrol.js";
import { prepare } from "./en-prepare.js";
import { en as figures } from "./figures.js";
import { en as strip } from "./strip.js";

export const words = {
  /** Unsigned: what the app says of W1 to W10 while no company has signed them in this language. */
  language: { code: "en", unsigned: "" },
  frame: {
    w1: "Platform stop only. Signals first.",
    w8: "Before you move: signal, doors.",
    /** Below every page of a demo; a phone has no room for the middle. */
    demo: "Demo:", demoRest: "invented lines,", demoNot: "not for service",
    /** How sure the stop on the card is. */
    placeWords: { sure: "Position known", estimated: "Position estimated", unknown: "Position unknown", off: "Not sure which stop" },
    /** @param {string} state */
    planned: (state) => `Planned rail: ${state}`,
    plannedWarned: (/** @type {string} */ state, /** @type {string} */ time) => `Planned rail: ${state}, warned ${time}`.trim(),
    /** @param {string} hours @param {string} state */
    w9: (hours, state) => `Rail state ${hours} h old: planned as ${state}.`,
    /** W9 when the choice was made for another train. */
    w9train: (/** @type {string} */ state) => `Train changed: planned as ${state}.`,
    plannedSigns: (/** @type {string} */ state, /** @type {string} */ signs) => `Planned rail: ${state}, for ${signs}`,
  },
  card: {
    w6: "No advice here. Drive to the conditions.",
    noSpeedEnough: "No speed is enough here. Special working: ask the signaller.",
    nothingAdded: "Nothing added.",
    /** At buffers, where a ladder of speeds follows. */
    noMarkAdded: "No mark added.",
    buffers: "BUFFERS",
    begin: "Begin before",
    noMark: "No mark: begin before",
    worse: "If worse:",
    worseBefore: "If worse: before",
    worseFar: "If worse: no mark, before",
    worseNoSpeed: "too slippery at any speed",
    worseUnknown: "no advice",
    worseSame: "same place",
    worseNothing: "nothing added",
    /** Over the column of speeds: their unit, once. */
    notAbove: (/** @type {string} */ unit) => `${unit}, not above`,
    /** The same where no column can stand: a unit keeps two numbers apart. */
    notAboveAll: (/** @type {string} */ all) => `Not above ${all}`,
    speedBy: (/** @type {string} */ speed, /** @type {string} */ place) => `${speed} by ${place}`,
    barWords: {
      wsp: "WSP fault",
      weak: "Brake test weak",
      pattern: "Stopping pattern changed",
      unsure: "Stopping here not sure",
      platform: "Platform not as booked",
      isolated: "Isolated brakes: more, or not known",
      formation: "Formation: other, or not known",
      train: "Train not in this pack",
    },
    off: (/** @type {string} */ reason) => `Advice off: ${reason}`,
    offWords: /** @type {Record<string, string>} */ ({
      line: "wrong line",
      diversion: "diversion",
      radio: "no radio",
      assisting: "assisting",
      other: "driver's choice",
    }),
    /** @param {number} cars */
    cars: (cars) => (cars === 1 ? "1 car" : `${cars} cars`),
    /** @param {string} name */
    step: (name) => (/^\d/.test(name) ? `step ${name}` : name),
    /** @param {string} state */
    listed: (state) => `${sentence(state)}, listed`,
    warned: (/** @type {string} */ state, /** @type {string} */ time) => `${sentence(state)}, warned ${time}`.trim(),
    warnedWorst: (/** @type {string} */ time) => `Warned ${time}`.trim(),
    /** A speed is lower for a restriction; the card never shows the restriction itself. */
    lowered: "Lowered: your notice",
    loweredShort: "Lowered",
    changed: {
      /** @param {string} time @param {string} what */
      since: (time, what) => `Changed since ${time}: ${what}`,
      whatWords: {
        advice: "advice again",
        none: "no advice now",
        slippery: "now too slippery",
        earlier: "begins earlier",
        later: "begins later",
        lighter: "lighter step",
        heavier: "heavier step",
        worse: "the place if worse",
        lower: "lower speeds",
        speeds: "other speeds",
      },
      whyWords: { warned: "warned", over: "warning over", notice: "notice", pack: "new pack", old: "old rail state" },
    },
  },
  nav: { brief: "Brief", next: "Next stop", report: "Report", outbox: "Outbox", label: "Pages" },
  next: {
    title: "Next stop",
    notPrepared: "No trip is prepared. Choose one in the Brief.",
    ended: "No further stop on this trip.",
    /** Why no card is shown; said at the next stand, with the question after it. */
    doubtWords: {
      missed: (/** @type {string} */ name) => `No stop was seen at ${name}.`,
      perhaps: (/** @type {string} */ name) => `Not known whether the train stopped at ${name}.`,
      turned: () => "The position went backwards. Advice is off.",
      "off line": () => "The position left this line. Advice is off.",
    },
    notFound: "Not sure which stop.",
    ask: "Which stop is next? Tap it to see advice.",
    /** A card is shown, but a stop before it was perhaps not made. */
    confirm: "Tap the stop that is next.",
    beyond: (/** @type {string} */ name) => `Standing beyond ${name} platform. The card is for the stop after it.`,
    perhapsBeyond: (/** @type {string} */ name) => `Perhaps beyond ${name} platform. The card is for the stop after it.`,
    perhaps: (/** @type {string} */ name) => `Not known whether this is ${name}. If it is, step on by hand.`,
    itIs: (/** @type {string} */ name) => `Next stop is ${name}`,
    back: (/** @type {string} */ name) => `Back to ${name}`,
    on: (/** @type {string} */ name) => `Show ${name}`,
    onToEnd: "Trip ended",
    positionOff: "Position is off. Set the stop by hand, at a stand.",
    positionUnknown: "Position unknown. Set the stop by hand, at a stand.",
    stood: (/** @type {string} */ name) => `Standing at ${name}. The card is for the stop after it.`,
    standOnly: "Read it here. The page goes dark when the train moves.",
    glance: "The company lets this page show while moving. No touch then.",
    screenMaySleep: "The screen may switch off by itself.",
  },
  strip,
  enrol,
  figures,
  brief: {
    title: "Brief",
    firstStart: "Not for learning a route.",
    defer:
      "Advice only. Signals, rule book, local instructions and your own judgement come first.",
    line: "Line",
    trip: "Trip",
    chooseTrip: "Choose a trip",
    train: "Train",
    formation: "Formation",
    isolated: "Cars with isolated brakes",
    isolatedNone: "no brake isolated",
    isolatedSome: (/** @type {string} */ n) => `brake isolated on ${n}`,
    isolatedMore: "isolated brakes: more, or not known",
    more: "more, or not known",
    none: "none",
    rail: "Rail state",
    railAsk: "Choose the rail state for this trip. In doubt, the worse one.",
    change: "Change",
    done: "Show the stops",
    noTrain: "No advice with this train.",
    /** Why, said once for the whole trip. */
    noTrainWords: /** @type {Record<string, string | undefined>} */ ({
      isolated: "Isolated brakes: more than there are figures for, or not known. Drive to the conditions; local instructions for the fault.",
      formation: "Formation: other, or not known. Drive to the conditions.",
      train: "The pack has no figures for this train as it is. Drive to the conditions.",
    }),
    allowance: "Time for this trip",
    allowanceMore: "Minutes lost to this approach are the company's.",
    allowanceNone: "No time is given for this trip: no stop has a figure.",
    allowanceUnknown: (/** @type {number} */ stops, /** @type {number} */ boards) => {
      const named = [some(stops, "stop"), some(boards, "board")].filter(Boolean).join(" and ");
      return `${named} without a figure: not counted.`;
    },
    /** Of all stops; each is one of these. */
    summaryWords: {
      changed: "with a different approach",
      usual: "as usual",
      noSpeed: "where no speed is enough",
      none: "without advice",
    },
    summaryAll: (/** @type {number} */ n, /** @type {string} */ what) => (n === 1 ? `1 stop, ${what}.` : `${n} stops, all ${what}.`),
    restrictions: "Restrictions: your notice, not here.",
    platform: (/** @type {string} */ name) => `platform ${name}`,
    buffers: "buffers",
    /** Plain stops drawn together in one row, which opens. */
    runNames: (/** @type {string} */ first, /** @type {string} */ last) => `${first} to ${last}`,
    runStops: (/** @type {number} */ n) => (n === 1 ? "1 stop" : `${n} stops`),
    runBoards: (/** @type {number} */ n) => (n === 1 ? "1 board" : `${n} boards`),
    runMarks: (/** @type {string} */ steps, /** @type {boolean} */ worse) =>
      `Brake marks${worse ? ", planned and worse" : ""}${steps && `; ${steps}`}.`,
    runUsual: (/** @type {string} */ names) => `Nothing added: ${names}.`,
    runIfWorse: "Brake marks if worse.",
    /** n: null for all of them */
    runWorse: (/** @type {number | null} */ n, /** @type {string} */ what) => `If worse${n === null ? "" : `, at ${n} of them`}: ${what}.`,
    cover: (/** @type {string} */ metres, /** @type {string} */ mu) =>
      `By calculation, one patch of ${metres} m at ${mu}. Two patches, or worse: not.`,
    coverToLimit: (/** @type {string} */ mu) =>
      `By calculation, one patch reaching to the limit at ${mu}. Two patches, or worse: not.`,
    coverNone: (/** @type {string} */ mu) => `By calculation, not even a short patch at ${mu}.`,
    coverLess: "Less than the company asks for.",
    noStateInHand: "No state in hand here: if the rail is worse than chosen, this may not do.",
    noStateInHandAt: (/** @type {string} */ names) => `No state in hand here: ${names}. If the rail is worse than chosen, these brake marks may not do.`,
    noStateInHandAll: "No state in hand at any stop on this rail. If it is worse than chosen, these brake marks may not do.",
    noStepInHand: "This plan uses the highest service step. No step in hand.",
    wsp: "Expect WSP activity.",
    runIn: (/** @type {string} */ speed, /** @type {string} */ step) =>
      `Release once. Run in at not above ${speed}; last application ${step}.`,
    ease: (/** @type {string} */ speed, /** @type {string} */ step) =>
      `From ${speed} ease to ${step}.`,
    aim: (/** @type {string} */ short) => `The first application aims ${short} short of the mark.`,
    noPicture: "No picture on this tablet.",
    pack: (/** @type {string} */ sha) => `Pack ${sha}`,
    fetched: (/** @type {string} */ when) => `fetched ${when}`,
    noPack: "No pack on this tablet yet.",
    connect: "Connect it to the depot once.",
    damaged: (/** @type {string} */ names) => `Damaged on this tablet, so no advice from it: the pack ${names}.`,
    connectAgain: "Connect the tablet to the depot: it is fetched again.",
    asking: "Asking the depot for it.",
    notGiven: "The depot did not give it; it is asked again.",
    /** @param {{name: string, done: number, of: number} | null} pack null: not known yet which files */
    fetching: (pack) => (pack ? `Fetching the pack ${pack.name}: ${pack.done} of ${pack.of} files.` : "Fetching the packs."),
    newerPack: "A newer pack is on this tablet.",
    usePack: "Use it",
    update: "A new version of the app is ready.",
    applyUpdate: "Use it now",
    install: "Install on this tablet",
    slideLink: "If it slides",
    trustLink: "How far to trust these numbers (needs signal)",
    guideLink: "What each page answers (needs signal)",
    screenLink: "Screen, hand and language",
    clockEither: "Or the depot's is wrong: reports keep both times. Tell the depot.",
    clockWrong: (/** @type {string} */ by, /** @type {boolean} */ slow) =>
      `The tablet's clock is ${by} ${slow ? "slow" : "fast"}.`,
  },
  depot: {
    refusedWords: {
      unsigned: "Packs from the depot were refused: they are not signed.",
      wrongKey: "Packs from the depot were refused: another key signed them.",
      altered: "Packs from the depot were refused: they were altered on the way.",
      older: "Packs from the depot were refused: they are older than those held here.",
      noCheck: "Packs from the depot were refused: this browser cannot check who signed them.",
      full: "No room on this tablet for the depot's new packs. Free some.",
      damaged: "A pack from the depot was refused: it arrived damaged.",
      unreadable: "A pack from the depot was refused: this version of the app cannot read it.",
    },
    refusedMore: "Those on this tablet stay. Tell the depot.",
    /** @param {{freeMb: number, packMb: number}} room */
    roomShort: ({ freeMb, packMb }) =>
      `Little room on this tablet: ${freeMb} MB free, a pack takes ${packMb} MB. Free some.`,
    withdrawn: (/** @type {string} */ name, /** @type {string} */ when, /** @type {string} */ reason) =>
      `The depot withdrew its figures for ${name} ${when}: ${reason}`,
  },
  warnings: {
    title: "Warnings for this trip",
    /** W5: fixed */
    w5: (/** @type {string} */ time) => `Warnings held here ${time}. Newer ones: signaller.`,
    never: "Warnings never reached this tablet. All of them: signaller.",
    broken: "The warnings on this tablet cannot be read. All of them: signaller.",
    head: (/** @type {string} */ state, /** @type {string} */ place) => `${state}, ${place}`,
    between: (/** @type {string} */ from, /** @type {string} */ to) => `${from} to ${to}`,
    unknownState: "Rail state not known here",
    unknownPlace: "place not known on this mileage",
    asWorst: "Planned as the worst state of this line.",
    since: (/** @type {string} */ when, /** @type {string} */ age) => `Warned ${[when, age].filter(Boolean).join(", ")}.`,
    sinceUnknown: "Time of the warning not known.",
    begins: (/** @type {string} */ when) => `From ${when}.`,
    toldBy: (/** @type {string} */ who, /** @type {string} */ reference) =>
      `Told by ${[who, reference].filter(Boolean).join(", ")}.`,
    heldBefore: "Held before the depot was restored. Whether it still stands: signaller.",
    review: (/** @type {string} */ when) => `Its review was due ${when}: ask the signaller. Until told otherwise it stands.`,
    stops: (/** @type {string} */ names) => `Planned with it: ${names}.`,
    noStop: "Changes no figure of this trip.",
    /** Where there is no figure that it could change. */
    onApproach: (/** @type {string} */ names) => `On the approach to: ${names}.`,
    onNoApproach: "On the approach to no stop of this trip.",
  },
  restrictions: {
    title: "Temporary speed restrictions held here",
    held: (/** @type {string} */ time) => `Held here ${time}.`,
    refused: "What the depot sent last cannot be read here. Those held before stand. Tell the depot.",
    never: "None ever reached this tablet.",
    broken: "Those on this tablet cannot be read.",
    head: (/** @type {string} */ speed, /** @type {string} */ place) => `${speed}, ${place}`,
    notice: (/** @type {string} */ reference) => `notice: ${reference}`,
    from: (/** @type {string} */ when) => `From ${when}`,
    begins: (/** @type {string} */ when) => `Still to come, from ${when}`,
    until: (/** @type {string} */ when) => `until ${when}.`,
    noEnd: "no end given.",
    over: (/** @type {string} */ when) =>
      `Its end, ${when}, has passed. Nobody has told the depot that it is withdrawn, so it counts here.`,
    lowers: (/** @type {string} */ names) => `Lowers a speed on the card for: ${names}.`,
    marks: "Brake marks stay worked from line speed.",
  },
  chart: {
    figures,
    usual: "usual",
    advised: "advised",
    ceiling: "cover ends",
    mark: "mark",
    slick: "listed",
    falls: "falls",
    rises: "rises",
    summary: (
      /** @type {string} */ name,
      /** @type {string} */ usual,
      /** @type {string} */ begin,
      /** @type {string} */ unit,
    ) =>
      `Speed in ${unit} against distance to the mark at ${name}. ${usual} ${begin}`,
    usualFrom: (/** @type {string} */ far) => `The usual approach begins ${far} before the mark.`,
    advisedFrom: (/** @type {string} */ far) => `The advised one begins ${far} before it.`,
  },
  report: {
    title: "Report",
    call: "Signaller first",
    tell: "Tell the signaller.",
    decide: "Your decision; in doubt, tell.",
    told: "I told the signaller",
    toldAt: (/** @type {string} */ time) => `Signaller told ${time}`,
    found: "What did you find?",
    foundWords: { good: "Good", expected: "Expected", reportable: "Reportable" },
    foundHelp: {
      good: "grip as on a good rail",
      expected: "poor, as foreseen here",
      reportable: "worse than foreseen here",
    },
    happened: "What happened?",
    happenedWords: /** @type {Record<string, string>} */ ({
      slide: "Slide",
      "slip at start": "Slip at start",
      overrun: "Overrun",
      "stopped short": "Stopped short",
      leaves: "Leaves",
      "dull railhead": "Dull railhead",
      mist: "Mist",
      "first rain": "First rain",
    }),
    place: "Where?",
    placeText: "or in words",
    placeOnly: "In words",
    direction: "Which way?",
    time: "When?",
    step: "Brake step used",
    stepWords: /** @type {Record<string, string>} */ ({
      1: "Step 1",
      2: "Step 2",
      3: "Step 3",
      emergency: "Emergency",
    }),
    weather: "Weather",
    weatherWords: /** @type {Record<string, string>} */ ({
      dry: "Dry",
      drizzle: "Drizzle",
      rain: "Rain",
      mist: "Mist",
      frost: "Frost",
      snow: "Snow",
    }),
    sand: "Sand used?",
    yes: "Yes",
    no: "No",
    rest: "More, if there is time",
    flats: "Heavy slide, flats suspected",
    notSeen: "Signaller says train not seen",
    text: "In your own words",
    name: "Your name, only if you want it there",
    save: "Save the report",
    saving: "Saving",
    needFound: "Choose what you found, then save.",
    draftFrom: (/** @type {string} */ time) => `Begun ${time}, not saved yet.`,
    afresh: "Start afresh",
    alsoBegun: (/** @type {string} */ time, /** @type {string} */ found) => `Another report was begun ${time}${found && ` (${found})`} and is not saved.`,
    openIt: "Open it",
    takenUp: "This report is now open in another window.",
    takeBack: "Go on with it here",
    goneWords: {
      saved: "This report was already saved in another window. What was changed here is not in it.",
      dropped: "This report was saved or discarded in another window. What stands here is not saved.",
    },
    goneOnWords: { saved: "Make it a correction", dropped: "Make it a new report" },
    w7: "Saved on this tablet. The signaller does not know. Call now.",
    savedTold: (/** @type {string} */ time) =>
      `Saved on this tablet. You told the signaller at ${time}; this report tells nobody else by itself.`,
    notSaved: "Could not save this report on the tablet. Write it down. Call now.",
    sayThis: "Words to say",
    another: "Another report",
    w10: "Don't release doors. Don't move. Signaller.",
    w10short: "Doors closed. Local instructions.",
    unknownPlace: "place not given",
    anotherPlace: "Another place",
    whichStop: "At another stop",
    aStop: "At a stop",
    chooseStop: "Choose",
    asked: "Where was it?",
    notSure: "Position is not sure here. One tap saves the report.",
    noTrip: "No trip is chosen, so position cannot say. The report is saved with the place you give.",
    thisPlace: "Save with this place",
    placeUnknown: "I do not know: save without a place",
    backToForm: "Back to the report",
    correction: "This corrects an earlier report.",
    editing: "This changes a report that has not been sent yet.",
  },
  seal: {
    title: "After an incident",
    open: "After an incident: seal what this tablet shows",
    callFirst: "Call the signaller first. A seal tells nobody.",
    what: "It seals card, preparation, pack, warnings and clock as they stand here now. No name, no free words.",
    seal: "Seal it now",
    not: "Not now",
    done: (/** @type {string} */ time) =>
      `Sealed on this tablet at ${time}. It stays in the Outbox until the depot has it. The signaller does not know.`,
    notDone: "This tablet could not seal it. Write down what it shows.",
  },
  mark: {
    here: "Mark here",
    marked: "Marked",
    notMarked: "Not marked",
    waits: (/** @type {string} */ time) => `Marked ${time}. It waits under Report.`,
  },
  say: {
    driver: "Driver of",
    low: "rail worse than expected",
    expected: "rail poor, as expected",
    good: "rail good",
    on: "on",
    at: "at",
    step: (/** @type {string} */ step) => `in ${step}`,
    sand: "sand used",
    noSand: "no sand used",
    notSeen: "train not seen",
    where: "(say where)",
  },
  /** Where a train stands: from one, to one, and how far, where position is good enough to say so. */
  where: {
    between: (/** @type {string} */ behind, /** @type {string} */ ahead, /** @type {string} */ far) =>
      `between ${behind} and ${ahead}${far && `, ${far} before ${ahead} platform`}`,
    beyond: (/** @type {string} */ name, /** @type {string} */ far) => `${far && `${far} `}beyond ${name} platform`,
  },
  outbox,
  prepare,
  screen: {
    title: "Screen, hand and language",
    light: "Light",
    lightWords: { auto: "By itself", bright: "Bright sun", day: "Day", dusk: "Dusk", night: "Night" },
    autoHelp: "by the time of day; dark whenever the tablet is",
    hand: "Controls for the",
    left: "left hand",
    right: "right hand",
    language: "Language",
    size: "Size of this screen",
    sizeHelp:
      "Hold the short side of a bank card against the bar. Letters and controls have their right size when both are as long.",
    bar: "A bar to hold a bank card against",
    shorter: "Shorter",
    longer: "Longer",
    eye: "From the eye to the screen",
    kept: "The browser keeps what this app stores.",
    notKept: "The browser may empty what this app stores when the tablet runs short of room. Install the app; send reports soon.",
    eyeFar: (/** @type {number} */ cm) => `${cm} cm`,
  },
  slide: {
    title: "If it slides",
    w4: "Sliding: hold the brake. Not slowing as it should: EMERGENCY, hold to a stand.",
    signed: "always the same for this train type, signed by the company",
    unsigned: "no words of its own are signed for this train type.",
    companyFirst: "Your company's own instructions come first.",
    noTrain: "Choose a trip in the Brief to see the words of its train type.",
    overrun: "If it overruns",
    short: "If it stops short",
    back: "Back to the Brief",
  },
};

/**
 * @param {number} n
 * @param {string} what
 */
function some(n, what) {
  return n === 0 ? "" : `${n} ${what}${n === 1 ? "" : "s"}`;
}

/** @param {string} text */
function sentence(text) {
  return text.charAt(0).toUpperCase() + text.slice(1);
}
