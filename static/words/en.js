/**
 * Every word the tablet shows, in one place. W1 to W10 are fixed: a company may translate
 * them, not soften them. On a moving page stand only `frame`, `card` and W9.
 */

import { brief, chart } from "./en-brief.js";
import { mark, report, say, seal, where } from "./en-report.js";
import { outbox } from "./en-outbox.js";
import { en as enrol } from "./enrol.js";
import { prepare } from "./en-prepare.js";
import { weather } from "./en-weather.js";
import { en as figures } from "./figures.js";
import { en as strip } from "./strip.js";

export const words = {
  /** Unsigned: what the app says of W1 to W10 while no company has signed them in this language. */
  language: {
    code: "en", unsigned: "",
    /** A label within a sentence. @param {string} label */
    within: (label) => label.toLowerCase(),
  },
  frame: {
    w1: "Platform stop only. Signals first.",
    w8: "Before you move: signal, doors.",
    /** Below every page of a demo; a phone has no room for the middle. */
    demo: "Demo:", demoRest: "invented lines,", demoNot: "not for service", demoRide: "Ride along",
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
  brief,
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
    w5: (/** @type {string} */ time) => `Warnings held here ${time}. For newer ones ask the signaller.`,
    never: "Warnings never reached this tablet. Ask the signaller for all of them.",
    broken: "The warnings on this tablet cannot be read. Ask the signaller for all of them.",
    head: (/** @type {string} */ state, /** @type {string} */ place) => `${state}, ${place}`,
    between: (/** @type {string} */ from, /** @type {string} */ to) => `${from} to ${to}`,
    unknownState: "Rail state not known here",
    unknownPlace: "place not known on this mileage",
    asWorst: "Planned as the worst state of this line.",
    since: (/** @type {string} */ when) => `Warned ${when}`,
    sinceUnknown: "Time of the warning not known.",
    begins: (/** @type {string} */ when) => `From ${when}.`,
    toldBy: (/** @type {string} */ who, /** @type {string} */ reference) =>
      `Told by ${[who, reference].filter(Boolean).join(", ")}.`,
    heldBefore: "Held since before the depot was restored. Ask the signaller whether it is still in force.",
    review: (/** @type {string} */ when) => `Its review was due ${when}: ask the signaller. It counts until you are told otherwise.`,
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
  chart,
  report,
  seal,
  mark,
  say,
  where,
  outbox,
  prepare,
  weather,
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
    /** Where a word is longer than a phone is wide it may be parted. @param {string} text */
    parted: (text) => text,
    signed: "always the same for this train type, signed by the company",
    unsigned: "no words of its own are signed for this train type.",
    companyFirst: "Your company's own instructions come first.",
    noTrain: "Choose a trip in the Brief to see the words of its train type.",
    overrun: "If it overruns",
    short: "If it stops short",
    back: "Back to the Brief",
  },
};

/** @param {string} text */
function sentence(text) {
  return text.charAt(0).toUpperCase() + text.slice(1);
}
