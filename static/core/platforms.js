/**
 * Platforms of a trip in its direction, and what a train unseen may have done at one.
 *
 * @import {FollowLine, FollowState, FollowStop} from "./follow.js"
 * @import {Place} from "./estimate.js"
 */

import { later } from "./estimate.js";

/**
 * A platform's ends in the direction of the trip.
 * @param {FollowLine} line
 * @param {FollowStop} stop
 */
export function ends(line, stop) {
  const [a, b] = [line.sign * stop.from, line.sign * stop.to];
  return { near: Math.min(a, b), far: Math.max(a, b) };
}

/**
 * First stop whose platform is not behind a position.
 * @param {FollowLine} line
 * @param {number} at along the line [m]
 */
export function stopAhead(line, at) {
  const index = line.stops.findIndex((stop) => line.sign * at <= ends(line, stop).far);
  return index < 0 ? line.stops.length : index;
}

/**
 * The stop a card is for: standing in a platform, the next one can be read already. Beyond it
 * the next one is too, unless the driver says that he sets back.
 * @param {{index: number, stood: boolean, past: boolean, hand: boolean}} state
 */
export function cardIndex({ index, stood, past, hand }) {
  return stood || (past && !hand) ? index + 1 : index;
}

/**
 * It stands surely beyond the platform of the stop that was next.
 * @param {Pick<FollowState, "index" | "past" | "doubtful" | "places">} state
 * @param {FollowLine} line
 */
export function isBeyond({ index, past, doubtful, places }, line) {
  const stop = line.stops[index];
  return past && !doubtful && stop !== undefined && places.length === 1 && places[0].lo > ends(line, stop).far;
}

/**
 * Unseen and running on as fast as it can, the train would have been at the next platform
 * this long ago.
 * @param {Pick<FollowState, "index" | "stood" | "past" | "hand" | "places">} state
 * @param {FollowLine} line
 * @param {number} now
 * @param {number} ms
 */
export function reachedLongAgo(state, line, now, ms) {
  const stop = line.stops[cardIndex(state)];
  if (!stop) return false;
  const { near } = ends(line, stop);
  return state.places.some((place) => now - ms > place.t && later(place, now - ms, line.top).hi >= near);
}

/**
 * Which stop is next when nothing is known but the trip: before its first stop it has just begun. Anywhere
 * else the direction must be sure, and the place must be between two platforms, not in one.
 * @param {Pick<FollowState, "still" | "motion">} state
 * @param {FollowLine} line
 * @param {Place} place
 * @returns {number | null} null: not known yet
 */
export function found({ still, motion }, line, place) {
  const first = line.stops[0];
  if (!first) return null;
  const { near, far } = ends(line, first);
  const begins = still && place.lo >= near && place.s <= far;
  if (begins || place.hi < near) return 0;
  if (motion !== "moving" || place.lo <= place.first.hi) return null;
  const index = line.stops.findIndex((stop) => place.lo <= ends(line, stop).far);
  const stop = line.stops[index];
  return stop && place.hi < ends(line, stop).near ? index : null;
}
