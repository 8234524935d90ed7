/**
 * The other way to see a start: after a stand the train may run back as well as on. Until the
 * fixes contradict that for long enough, a place is carried on for a train that runs back;
 * while it has perhaps come far, nothing about the stop is known.
 *
 * @import {Fix} from "./types.js"
 * @import {Place, Reading, Way} from "./estimate.js"
 * @typedef {{place: Place, begin: number, since: number | null, misses: number}} Backward
 *   begin: where it stood [m]; since, misses: fixes in a row that contradict it
 */

import { fitting, later } from "./estimate.js";
import { BACKWARD_M, BACKWARD_MS, STRANGE_FIXES } from "./follow-numbers.js";

/**
 * From a stand the train may run back.
 * @param {Place} place where it stands
 * @returns {Backward}
 */
export function mayRunBack(place) {
  const here = { lo: place.lo, hi: place.hi };
  return { place: { ...place, dir: -1, first: here, anchor: here }, begin: place.s, since: null, misses: 0 };
}

/**
 * Take one fix of a train that no longer stands in.
 * @param {Backward} backward
 * @param {Way} way
 * @param {Fix} fix
 * @param {Reading} reading
 * @returns {Backward | null} null: it surely does not run back
 */
export function runBack(backward, way, fix, reading) {
  const [place] = fitting([backward.place], way, fix, { ...reading, standing: false, forward: false });
  if (place) return place.dir === 1 ? null : { ...backward, place: { ...place, dir: -1 }, since: null, misses: 0 };
  const since = backward.since ?? fix.at;
  const misses = backward.misses + 1;
  return fix.at - since >= BACKWARD_MS && misses >= STRANGE_FIXES ? null : { ...backward, since, misses };
}

/**
 * @param {Backward | null} backward
 * @param {number} now
 * @param {number} top highest speed of the line [m/s]
 */
export function isPerhapsBack(backward, now, top) {
  return backward !== null && backward.begin - later(backward.place, now, top).s > BACKWARD_M;
}
