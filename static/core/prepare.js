/**
 * What the driver says about his train before he sets off, and what each answer takes
 * away. An answer only ever takes advice away; what is not known counts as the worse.
 *
 * @import {Advice, Bar, Base, Prep, Row} from "./types.js"
 */

import { askedBefore } from "./proposal.js";
import { NOT_COMPUTED, noFigures } from "./table.js";

export const SAND = /** @type {const} */ (["full", "low", "unknown", "isolated"]);
export const WSP = /** @type {const} */ (["works", "fault"]);
/** A formation that no pack knows: another type of train is coupled, or nobody knows. */
export const OTHER_FORMATION = "other";
/** Own number: longer than preparing ahead and any trip. A train left for so long may be another. */
const RUN_OVER_MS = 6 * 3600_000;
/** Adhesion of leaf film; assumption, no source. Worse than this a train needs its WSP. */
const LEAF_FILM = 0.04;

/**
 * Whether everything has been asked that advice depends on. What a choice kept by an older
 * app lacks is put in as "not asked" when it is recalled.
 * @param {Prep} prep
 */
export function allAsked(prep) {
  return prep.formation !== null && prep.state !== null && prep.isolated !== null && prep.wsp !== null;
}

/** What is said of a train. */
const NOT_SAID = { formation: null, isolated: null, wsp: null, sand: null, brakeTest: null };

/**
 * A new train, or the other end of it: nothing that was said of the former one holds.
 * @param {Prep} prep
 * @returns {Prep}
 */
export function askedAgain(prep) {
  return { ...prep, ...NOT_SAID, trainChanged: prep.state !== null };
}

/**
 * An answer about the train. With another formation it is another train, so the rest of it is
 * asked again: isolated brakes are counted among its own cars.
 * @param {Prep} prep
 * @param {Partial<Pick<Prep, "formation" | "isolated">>} change
 * @returns {Prep}
 */
export function withTrain(prep, change) {
  const { formation = prep.formation, isolated = prep.isolated } = change;
  if (formation !== prep.formation && prep.formation !== null) return { ...againIfSaid(prep), formation };
  const changed = prep.isolated !== null && prep.isolated !== isolated && prep.state !== null;
  return { ...prep, formation, isolated, trainChanged: prep.trainChanged || changed };
}

/**
 * A formation put right before anything else of the train was said is no other train.
 * @param {Prep} prep
 */
function againIfSaid(prep) {
  return prep.isolated === null && (prep.wsp ?? null) === null ? prep : askedAgain(prep);
}

/**
 * What is known of the train when a trip is chosen.
 * @param {Prep | null} prep of the trip before
 * @param {boolean} again it is, or may be, another train
 */
export function trainKnown(prep, again) {
  if (again || !prep) return NOT_SAID;
  const { formation, isolated, wsp = null, sand = null, brakeTest = null } = prep;
  return { formation, isolated, wsp, sand, brakeTest };
}

/**
 * Whether what was prepared was for a former run of the trip: yesterday's train and yesterday's
 * stops are not today's. How old the rail state is, is told on its own (W9).
 * @param {Prep} prep
 * @param {number} now
 */
export function isRunOver(prep, now) {
  const said = prep.formation !== null || prep.isolated !== null || (prep.wsp ?? null) !== null;
  return said && now - (prep.answeredAt ?? prep.stateAt) > RUN_OVER_MS;
}

/**
 * The same trip, to be prepared for another run of it.
 * @param {Prep} prep
 * @returns {Prep}
 */
export function forAnotherRun(prep) {
  return { ...prep, ...NOT_SAID, off: null, calls: {}, extra: [], asked: askedBefore(prep) };
}

/**
 * First state of the chain for which there is no advice without a working WSP: leaf film,
 * known by its adhesion, and in any case the worst state a driver may set off in.
 * @param {Base} base
 */
export function wspNeededFrom(base) {
  const film = base.states.findIndex((state) => state.plan <= LEAF_FILM);
  const worst = base.states.findLastIndex((state) => state.pickable);
  return Math.min(...[film, worst].filter((index) => index >= 0));
}

/**
 * @param {Row} row
 * @param {Bar} bar why there is none
 * @returns {Row} the same stop without a figure
 */
export function barred(row, bar) {
  return { ...row, own: row.own ?? row.advice, advice: { ...noFigures(NOT_COMPUTED), worse: null }, bar };
}

/**
 * What a WSP fault leaves of a row: nothing on leaf film or worse, and no "worse" that is.
 * @param {Base} base
 * @param {Row} row
 * @param {number} listed worst listed state that counts here; -1 for none
 * @returns {Row}
 */
export function withoutWsp(base, row, listed) {
  const from = wspNeededFrom(base);
  if (Math.max(row.state, listed) >= from) return barred(row, { why: "wsp" });
  if (row.state + 1 < from) return row;
  /** @type {Advice} */
  const advice = { ...row.advice, worse: noFigures(NOT_COMPUTED) };
  return { ...row, advice };
}
