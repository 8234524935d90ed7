/**
 * The rail state that four questions propose: looked up in the pack, where Python worked it out
 * for every answer (webapp/packs/proposals.py). A proposal is a floor until the driver says why
 * he takes a better state; it never makes his own choice milder.
 *
 * @import {Asked, Base, Prep} from "./types.js"
 */

import { FAR_APART_MS, seasonDay } from "./clock.js";

const HOUR = 3600_000;
/** Why a driver may take a better state than proposed; below damp only an own look counts. */
const REASONS = /** @type {const} */ (["looked", "held", "changed"]);
const LOOKED = /** @type {const} */ (["looked"]);

/**
 * Month and hour by the depot's clock where it is known. Two clocks a day apart are not
 * believed, neither of them: then nobody knows the time, and the worst counts.
 * @param {number} now
 * @param {number | null} offset how far the tablet is behind the depot
 * @param {number} fetchedAt when the pack came, by this tablet's clock
 * @returns {{month: number, hour: number} | null}
 */
export function timeOf(now, offset, fetchedAt) {
  if (Math.abs(offset ?? 0) >= FAR_APART_MS || seasonDay(now, offset, fetchedAt) === null) return null;
  const time = new Date(now + (offset ?? 0));
  return { month: time.getMonth() + 1, hour: time.getHours() };
}

/**
 * @param {Base} base
 * @param {Record<string, string>} answers by question
 * @param {{month: number, hour: number} | null} when null: nobody knows, so the worst of all
 * @param {boolean} [leafy] as the pack says, unless given
 * @returns {{state: string, why: string[]} | null} null while a question is open, or of an old pack
 */
export function proposed(base, answers, when, leafy) {
  const table = base.proposals;
  const column = table ? columnOf(table.questions, answers) : null;
  if (!table || column === null) return null;
  const hours = table.at[(leafy ?? table.leafy) ? 1 : 0];
  const at = (/** @type {number} */ row) => table.outcomes[table.rows[row][column]];
  if (when) return at(hours[when.month - 1][when.hour]);
  const rank = (/** @type {{state: string}} */ one) => base.states.findIndex((state) => state.key === one.state);
  return hours.flat().map(at).reduce((worst, one) => (rank(one) > rank(worst) ? one : worst));
}

/**
 * @param {{key: string, answers: string[]}[]} questions
 * @param {Record<string, string>} answers
 */
function columnOf(questions, answers) {
  let column = 0;
  for (const { key, answers: known } of questions) {
    const index = known.indexOf(answers[key]);
    if (index < 0) return null;
    column = column * known.length + index;
  }
  return column;
}

/**
 * One more question answered. Old answers are not mixed with new ones; what they proposed
 * stands until all are given again.
 * @param {Base} base
 * @param {Prep} prep
 * @param {{key: string, answer: string, when: {month: number, hour: number} | null, now: number}} given
 * @returns {Prep}
 */
export function withAnswer(base, prep, { key, answer, when, now }) {
  const before = prep.asked ?? null;
  const answers = { ...(before && !before.weather && !isAskedOld(base, before, now) ? before.answers : {}), [key]: answer };
  const found = proposed(base, answers, when);
  const kept = { state: before?.state ?? null, why: before?.why ?? [] };
  const { state, why } = found ?? kept;
  const reason = state === kept.state ? (before?.reason ?? null) : null;
  return { ...prep, asked: { answers, at: now, state, why, reason } };
}

/**
 * Old as a rail state is; a clock set back makes it old too.
 * @param {Base} base
 * @param {Asked} asked
 * @param {number} now
 */
export function isAskedOld(base, asked, now) {
  const age = now - asked.at;
  return age < -HOUR / 60 || age > base.settings.rail_state_hours * HOUR;
}

/** Another trip, or another run of it: why a better state was taken held for the former one. @param {Prep | null} prep */
export function askedBefore(prep) {
  // What the weather proposed was of that trip's hours.
  return prep?.asked && !prep.asked.weather ? { ...prep.asked, reason: null } : null;
}

/**
 * Place of the proposal in the chain; -1 for none.
 * @param {Base} base
 * @param {Prep} prep
 */
export function proposedIndex(base, prep) {
  return base.states.findIndex((state) => state.key === prep.asked?.state && state.pickable);
}

/**
 * What may be said for a better state than proposed.
 * @param {Base} base
 * @param {number} chosen place in the chain
 */
export function reasonsFor(base, chosen) {
  return chosen < (base.proposals?.looked_below ?? base.states.length) ? LOOKED : REASONS;
}

/**
 * The state the trip begins with: the driver's own, or the proposal while nothing is said for
 * a better one. What was said grows old with the choice.
 * @param {Base} base
 * @param {Prep} prep
 * @param {number} chosen place in the chain
 * @param {boolean} old
 */
export function heldTo(base, prep, chosen, old) {
  const least = proposedIndex(base, prep);
  const said = !old && reasonsFor(base, chosen).some((reason) => reason === prep.asked?.reason);
  return said ? chosen : Math.max(chosen, least);
}
