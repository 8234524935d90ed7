/**
 * A ride of the demonstration: an invented train, followed by the app's own following. Time is
 * what is passed in, so nothing here knows a clock; nothing is kept and nothing is sent.
 *
 * @import {Pack, Prep, TripView} from "../core/types.js"
 * @import {FollowLine, FollowState} from "../core/follow.js"
 * @import {Event, Train, Way} from "./train.js"
 * @typedef {{view: TripView, way: Way, line: FollowLine, train: Train, follow: FollowState, now: number, asked: ReadonlySet<Event>,
 *   fix: ReturnType<typeof import("./train.js").receiver>}} Ride now: milliseconds of the ride's own time
 */

import { follow, lapse, startFollowing } from "../core/follow.js";
import { followLine, tripView } from "../core/trip.js";
import { stationsOf, whereIs } from "../core/where.js";
import { drive, inTunnel, receiver, startTrain, wayOf } from "./train.js";

/** A jump ends so long before the train is at the card's mark. [s] */
const AHEAD_S = 60;
const LONGEST_JUMP_S = 3600;

/**
 * @param {Pack} pack
 * @param {string} trip
 * @param {string} state rail state by its key
 * @param {number} now
 * @param {number} [seed] of the receiver's errors
 * @returns {Ride | null} null for a trip that the pack has no train for
 */
export function startRide(pack, trip, state, now, seed = 1) {
  const found = pack.base.trips.find((one) => one.key === trip);
  if (!found) return null;
  /** @type {Prep} */
  const prep = {
    route: pack.base.route.key, pack: pack.sha, trip, formation: found.formation, isolated: 0, wsp: "works", sand: null,
    state, stateAt: now, trainChanged: false,
  };
  const view = tripView(pack, prep, now, null);
  if (!view) return null;
  const way = wayOf(view);
  return { view, way, line: followLine(view), train: startTrain(way), follow: startFollowing(), now, asked: new Set(), fix: receiver(seed) };
}

/**
 * @param {Ride} ride
 * @returns {Ride} a second later
 */
export function second(ride) {
  const now = ride.now + 1000;
  const train = drive(ride.train, ride.way, ride.asked);
  const blind = inTunnel(train, ride.way, ride.asked);
  const next = blind ? lapse(ride.follow, now, ride.line) : follow(ride.follow, ride.line, ride.fix(ride.way, train, now), now);
  // Each thing asked for happens once.
  const asked = train.next > ride.train.next ? new Set() : ride.asked;
  return { ...ride, now, train, follow: next, asked };
}

/**
 * On to where it gets interesting: a minute before the mark of the stop ahead, or of the next one
 * if that is behind. Every second of the way is followed.
 * @param {Ride} ride
 * @returns {Ride}
 */
export function jump(ride) {
  let at = second(ride);
  for (let i = 0; i < LONGEST_JUMP_S && !at.train.over && !isNear(at); i++) at = second(at);
  // One that is near already goes on to the stop after it.
  if (!isNear(ride)) return at;
  while (!at.train.over && at.train.next === ride.train.next) at = second(at);
  for (let i = 0; i < LONGEST_JUMP_S && !at.train.over && !isNear(at); i++) at = second(at);
  return at;
}

/** @param {Ride} ride */
function isNear({ train, way }) {
  const stop = way.stops[train.next];
  if (!stop || train.dwell > 0) return false;
  return train.s >= (stop.begin ?? stop.near - 1000) - AHEAD_S * Math.max(train.speed, 1);
}

/**
 * Where a report begun now would say that the train is; null while it would ask.
 * @param {Ride} ride
 */
export function reportPlace({ view, line, follow: state, now }) {
  const stop = line.stops[state.index];
  const next = stop ? Math.min(line.sign * stop.from, line.sign * stop.to) : null;
  const along = { stations: stationsOf(view.base, view.direction.key), sign: line.sign, geometry: line.geometry, next };
  return whereIs(state, along, now).spot;
}
