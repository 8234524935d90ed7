/** The words of the Brief. Never on a moving page. */

import { en as figures } from "./figures.js";

export const brief = {
  title: "Brief",
  firstStart: "Not for learning a route.",
  defer:
    "Advice only. Signals, rule book, local instructions and your own judgement come first.",
  line: "Line",
  trip: "Trip",
  chooseTrip: "Choose a trip",
  due: "Leaving next",
  find: "Find by time or number",
  found: (/** @type {number} */ n) => (n === 0 ? "No trip found." : n === 1 ? "1 trip found." : `${n} trips found.`),
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
    weak: "Running brake test weak: a brake fault. Follow local instructions, tell the signaller.",
    train: "The pack has no figures for this train as it is. Drive to the conditions.",
  }),
  allowance: "Time for this trip",
  allowanceMore: "Minutes lost to this approach are the company's.",
  allowanceNone: "No time is given for this trip: no stop has a figure.",
  allowanceUnknown: (/** @type {number} */ stops, /** @type {number} */ boards) => {
    const named = [some(stops, "stop"), some(boards, "board")].filter(Boolean).join(" and ");
    return `${named} without a figure: not counted.`;
  },
  /** The first screen. Names go into whole sentences. */
  first: {
    noSpeed: (/** @type {string} */ names) => `No speed is enough: ${names}. Special working: ask the signaller.`,
    noAdvice: (/** @type {string} */ names, /** @type {string} */ why) => `No advice: ${names}${why && ` (${why})`}. Drive to the conditions.`,
    andMore: (/** @type {string} */ names, /** @type {number} */ n) => `${names} and ${n} more`,
    before: (/** @type {string} */ place) => `before ${place}`,
    never: "If worse: too slippery at any speed",
    noHand: "No state in hand",
    everywhere: "Every stop",
    others: (/** @type {number} */ n) => (n === 1 ? "The other stop" : `The other ${n} stops`),
    earlier: (/** @type {string} */ where, /** @type {string} */ steps) => `${where}: brake earlier than usual${steps && `, ${steps}`}.`,
    nothing: (/** @type {string} */ where) => `${where}: nothing added.`,
    butNothing: (/** @type {string} */ names) => `Nothing added at ${names}.`,
    moreStops: (/** @type {number} */ n) => `${n} more such ${n === 1 ? "stop" : "stops"}`,
    moreNews: (/** @type {number} */ n) => `${n} more ${n === 1 ? "change" : "changes"}`,
    allStops: (/** @type {number} */ n) => (n === 1 ? "The stop" : `All ${n} stops`),
    train: "Train, brakes",
    warnings: (/** @type {number} */ n) => (n === 1 ? "1 warning" : `${n} warnings`),
    more: "More",
  },
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
  coverNone: "No room for a slippery patch here. Coming in slower helps.",
  coverSmall: "Hardly any room for a slippery patch here. Coming in slower helps.",
  coverSmallAll: "Hardly any room for a slippery patch on this rail. Coming in slower helps.",
  coverLess: "Less than the company asks for.",
  noStateInHand: "No state in hand here: if the rail is worse than chosen, this may not do.",
  nothingToSpare: "Nothing to spare here for a late start or a weak brake.",
  noStateInHandAll: "No state in hand at any stop on this rail. If it is worse than chosen, this may not do.",
  noStateInHandMost: (/** @type {string} */ names) => `No state in hand at any stop on this rail but ${names}. If it is worse than chosen, this may not do.`,
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
};

export const chart = {
  figures,
  usual: "usual",
  beginHere: "planned: begin here",
  worse: "worse",
  planned: "planned",
  before: "before the mark",
  begins: "begins",
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
};

/**
 * @param {number} n
 * @param {string} what
 */
function some(n, what) {
  return n === 0 ? "" : `${n} ${what}${n === 1 ? "" : "s"}`;
}
