/**
 * Platforms of a trip in its direction, and what a train unseen may have done at one.
 *
 * @import {FollowLine, FollowState, FollowStop} from "./follow.js"
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
 * The stop a card is for: standing in a platform, the next one can be read already.
 * @param {{index: number, stood: boolean}} state
 */
export function cardIndex({ index, stood }) {
  return stood ? index + 1 : index;
}

/**
 * Unseen and running on as fast as it can, the train would have been at the next platform
 * this long ago.
 * @param {Pick<FollowState, "index" | "stood" | "places">} state
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
