/**
 * One grip report: from the first touch to the item that travels, and the words to say
 * to the signaller, who comes first.
 *
 * @import {Base, Found, ReportBody, Target, TripView} from "./types.js"
 * @typedef {{id: string, marked?: boolean, openedAt: number, observedAt: number, route: string, pack: string | null, direction: string,
 *   target: string | null, place: string, at_m: number | null,
 *   position: {lat: number, lon: number, accuracy_m: number, age_s: number} | null, found: Found | null,
 *   happened: string[], step: string | null, weather: string | null, sand_used: boolean | null,
 *   flats_suspected: boolean, train_not_seen: boolean, toldAt: number | null, text: string,
 *   train: string | null, rail_state: string | null, driver_name: string,
 *   placed?: "position" | "driver" | null,
 *   supersedes: string | null, edits?: string | null}} Draft placed: who said where it was, null while nobody has; id: also
 *   the report's; marked: place and time of a touch on the move, nothing said yet; edits: the row it is to
 *   replace, if that was never tried
 * @typedef {typeof import("../words/en.js").words} Words
 */

import { rfc3339 } from "./clock.js";
import { placeAlong } from "./format.js";
import { timeOfDay } from "./age.js";
import { MOST_TEXT } from "./agreed.js";
import { FINE_M } from "./where.js";

export const HAPPENED = [
  "slide", "slip at start", "overrun", "stopped short", "leaves", "dull railhead", "mist", "first rain",
];
export const STEPS = ["1", "2", "3", "emergency"];
export const WEATHER = ["dry", "drizzle", "rain", "mist", "frost", "snow"];

/**
 * A report names no place before position is sure of one or the driver has said it: the stop
 * behind is not where a train stands that stopped short or ran past.
 * @typedef {{view: TripView | null, at: number | null, position: Draft["position"], route: string}} ReportPlace
 * @param {ReportPlace} here
 * @param {number} now
 * @returns {Draft}
 */
export function newDraft({ view, at, position, route }, now) {
  return {
    id: crypto.randomUUID(),
    openedAt: now,
    observedAt: now,
    route,
    pack: view?.pack.sha ?? null,
    direction: view?.direction.key ?? "",
    target: null,
    place: "",
    at_m: at,
    position,
    placed: null,
    found: null,
    happened: [],
    step: null,
    weather: null,
    sand_used: null,
    flats_suspected: false,
    train_not_seen: false,
    toldAt: null,
    text: "",
    train: view?.train?.key ?? null,
    rail_state: view ? view.base.states[view.state].key : null,
    driver_name: "",
    supersedes: null,
  };
}

/**
 * @param {Draft} draft
 * @returns {ReportBody}
 */
export function bodyOf(draft) {
  if (draft.found === null) throw new Error("a report says what was found");
  return {
    route: draft.route,
    pack: draft.pack,
    direction: draft.direction,
    target: draft.target,
    place: plain(draft.place).trim() || null,
    at_m: draft.at_m,
    position: draft.position,
    found: draft.found,
    happened: HAPPENED.filter((word) => draft.happened.includes(word)),
    step: draft.step,
    weather: draft.weather,
    sand_used: draft.sand_used,
    flats_suspected: draft.flats_suspected,
    train_not_seen: draft.train_not_seen,
    told_signaller_at: draft.toldAt === null ? null : rfc3339(draft.toldAt),
    text: plain(draft.text.slice(0, MOST_TEXT)),
    train: draft.train,
    rail_state: draft.rail_state,
    driver_name: plain(draft.driver_name).trim() || null,
    supersedes: draft.supersedes,
  };
}

/**
 * Text that every depot can keep: an emoji cut in half at the limit would have the whole
 * report refused.
 * @param {string} text
 */
function plain(text) {
  return text.replace(/\p{Surrogate}|\0/gu, "");
}

/**
 * Whether the signaller is told, or the driver decides. There is no third answer.
 * @param {Draft} draft
 * @returns {"tell" | "decide"}
 */
export function tellOrDecide(draft) {
  const must =
    draft.found === "reportable" ||
    draft.happened.includes("overrun") ||
    draft.sand_used === true ||
    draft.train_not_seen;
  return must ? "tell" : "decide";
}

/**
 * The sentence to say, out of what is filled in so far.
 * @param {Draft} draft
 * @param {Base | null} base
 * @param {string} trip
 * @param {Words} w
 */
export function sayWords(draft, base, trip, w) {
  // "Down, away from Kettle Bay": the first word is what the signaller needs.
  const direction = base?.directions.find((one) => one.key === draft.direction)?.name.split(",")[0];
  const parts = [
    trip ? `${w.say.driver} ${trip}` : "",
    draft.found ? foundWords(draft.found, w) : "",
    [base?.route.name, direction].filter(Boolean).join(", "),
    !draft.placed ? w.say.where : whereWords(draft, base, w),
    timeOfDay(draft.observedAt),
    whatWords(draft, base, w),
    draft.sand_used === null ? "" : draft.sand_used ? w.say.sand : w.say.noSand,
    draft.train_not_seen ? w.say.notSeen : "",
    draft.weather ? w.report.weatherWords[draft.weather].toLowerCase() : "",
  ];
  return `${parts.filter((part) => part !== "").join("; ")}.`;
}

/**
 * @param {Found} found
 * @param {Words} w
 */
function foundWords(found, w) {
  return { reportable: w.say.low, expected: w.say.expected, good: w.say.good }[found];
}

/**
 * The steps as they stand on this train's handle; numbered where that is not known.
 * @param {Base | null} base
 * @param {Draft} draft
 * @param {Words} w
 * @returns {Record<string, string>}
 */
export function stepNames(base, draft, w) {
  const own = base?.trains.find((one) => one.key === draft.train)?.steps ?? [];
  const named = own.length === STEPS.length - 1;
  return Object.fromEntries(STEPS.map((step, i) => [step, (named && own[i]) || w.report.stepWords[step].toLowerCase()]));
}

/**
 * @param {Draft} draft
 * @param {Base | null} base
 * @param {Words} w
 */
function whatWords(draft, base, w) {
  const what = HAPPENED.filter((word) => draft.happened.includes(word)).map(
    (word) => w.report.happenedWords[word].toLowerCase(),
  );
  const step = draft.step ? w.say.step(stepNames(base, draft, w)[draft.step]) : "";
  return [what.join(", "), step].filter((part) => part !== "").join(" ");
}

/**
 * @param {Draft} draft
 * @param {Base | null} base
 * @param {Words} w
 */
export function whereWords(draft, base, w) {
  const target = base?.targets.find((one) => one.key === draft.target);
  const name = draft.place.trim() || (target ? placeName(target, w) : "");
  // A vague receiver gives no figure, and words that have one need no second.
  const told = name === "" || (isFine(draft) && !/\d/.test(draft.place));
  const at = told && draft.at_m !== null && base ? placeAlong(draft.at_m, base.route.distance_unit, w.figures, true) : "";
  return [name || (at ? "" : w.report.unknownPlace), at].filter((part) => part !== "").join(", ");
}

/** @param {Draft} draft */
function isFine({ position }) {
  return position !== null && position.accuracy_m <= FINE_M;
}

/**
 * @param {Target} target
 * @param {Words} w
 */
export function placeName(target, w) {
  return target.platform ? `${target.name}, ${w.brief.platform(target.platform)}` : target.name;
}

/**
 * Back into the form. Never tried, the row itself may still be changed.
 * @param {ReportBody} body
 * @param {string} id
 * @param {string} observedAt
 * @param {number} now
 * @returns {Draft}
 */
export function editOf(body, id, observedAt, now) {
  const draft = correctionOf(body, id, observedAt, now);
  return { ...draft, supersedes: /** @type {any} */ (body).supersedes ?? null, edits: id };
}

/**
 * A report just saved, with the call to the signaller that followed: while it waits untried it
 * is changed in its place, later it is corrected.
 * @param {Draft} saved
 * @param {number} now
 * @returns {Draft}
 */
export function toldAfter(saved, now) {
  return { ...saved, id: crypto.randomUUID(), openedAt: now, toldAt: now, edits: saved.id };
}

/**
 * A correction is a new report that names the one it replaces; the old one never changes.
 * @param {ReportBody} body
 * @param {string} id
 * @param {string} observedAt
 * @param {number} now
 * @returns {Draft}
 */
export function correctionOf(body, id, observedAt, now) {
  const old = /** @type {any} */ (body);
  return {
    ...old,
    id: crypto.randomUUID(),
    openedAt: now,
    observedAt: Date.parse(observedAt),
    place: old.place ?? "",
    placed: "driver",
    toldAt: old.told_signaller_at ? Date.parse(old.told_signaller_at) : null,
    driver_name: old.driver_name ?? "",
    supersedes: id,
  };
}
