/**
 * What of a line nobody surveyed, in one line for the driver.
 *
 * @import {Base, Inferred} from "./types.js"
 * @typedef {Pick<typeof import("../words/en.js").words, "prepare" | "figures">} Words
 */

import { placeAlong } from "./format.js";

/** So many places are named one by one; more are the first, the last and how many. */
const MOST = 2;
/** Stretches that meet within this are one. [m] */
const TOUCH = 1;

/**
 * @param {Base} base
 * @param {string} direction
 * @param {number} one where the part asked about ends, either way round
 * @param {number} other
 * @param {Words} words
 * @returns {string | null} null where all of it was surveyed
 */
export function inferredWords(base, direction, one, other, words) {
  const [low, high] = [Math.min(one, other), Math.max(one, other)];
  const mine = (base.inferred ?? []).filter((entry) =>
    (entry.direction === null || entry.direction === direction) && entry.from_m <= high && entry.to_m >= low);
  const w = words.prepare.inferred;
  // A kind that only a later pack knows is still said.
  const kinds = [...new Set(mine.map((entry) => entry.what))].map((what) => {
    const places = joined(mine.filter((entry) => entry.what === what), low, high).map(([from, to]) => stretch(base, from, to, words));
    const named = places.length > MOST ? w.many(places[0], places[places.length - 1], places.length) : places.join(", ");
    return `${w.kindWords[/** @type {keyof typeof w.kindWords} */ (what)] ?? what} ${named}`;
  });
  return kinds.length > 0 ? w.line(kinds.join("; ")) : null;
}

/**
 * @param {Inferred[]} entries
 * @param {number} low
 * @param {number} high
 * @returns {[number, number][]}
 */
function joined(entries, low, high) {
  /** @type {[number, number][]} */
  const spans = [];
  for (const { from_m, to_m } of entries.toSorted((a, b) => a.from_m - b.from_m)) {
    const [from, to] = [Math.max(low, from_m), Math.min(high, to_m)];
    const last = spans.at(-1);
    if (last && from <= last[1] + TOUCH) last[1] = Math.max(last[1], to);
    else spans.push([from, to]);
  }
  return spans;
}

/**
 * @param {Base} base
 * @param {number} from
 * @param {number} to
 * @param {Words} words
 */
function stretch(base, from, to, words) {
  const [low, high] = [from, to].map((at) => placeAlong(at, base.route.distance_unit, words.figures, true));
  return low === high ? low : words.prepare.inferred.stretch(low, high);
}
