/**
 * An invented train of the demonstration, second by second, and what a receiver says of it.
 * It brakes from the mark of the card on, or as usual where that is later. Own numbers, as in
 * tests/support/tracks.py.
 *
 * @import {TripView} from "../core/types.js"
 * @typedef {"tunnel" | "short" | "slip" | "overrun"} Event
 * @typedef {{near: number, far: number, mark: number, rate: number, begin: number | null}} RideStop in the direction
 *   of travel [m]; rate: how the train brakes for it [m/s²]; begin: the earlier mark of its card
 * @typedef {{sign: 1 | -1, geometry: [number, number, number][], stops: RideStop[], origin: number,
 *   limits: [number, number, number][]}} Way limits: from, to [m], speed [m/s]
 * @typedef {{s: number, speed: number, next: number, dwell: number, slipping: number, done: Event[], held: "short" | "overrun" | null,
 *   aims: boolean, over: boolean}} Train aims: it drives to a stand short of the platform; next: the stop it drives to; dwell: seconds it still stands; done: what has happened before this stop
 */

import { firstMark, topSpeed } from "../core/trip.js";

/** [m/s²] */
const GAIN = 0.6;
const BRAKE = 0.35;
const SLIP_GAIN = 0.05;
/** [s] */
const DWELL = 25;
const HELD = 50;
const SLIP = 30;
/** Where what was chosen happens, before or past the platform [m]. */
export const SHORT_M = 60;
const OVERRUN_M = 60;
const FAR_ENOUGH_M = 700;
export const TUNNEL = /** @type {const} */ ({ from: 1500, to: 300 });

/**
 * @param {TripView} view
 * @returns {Way}
 */
export function wayOf(view) {
  const { base, trip, direction, trainIndex } = view;
  const { sign } = direction;
  const unit = base.route.mps_per_unit;
  const limits = (base.limits[direction.key] ?? []).map(([a, b, speed]) => (
    /** @type {[number, number, number]} */ ([Math.min(sign * a, sign * b), Math.max(sign * a, sign * b), speed * unit])
  ));
  const way = { sign, geometry: base.geometry, limits, origin: 0, stops: /** @type {RideStop[]} */ ([]) };
  way.stops = view.calls.map(({ target, advice }) => {
    const mark = sign * (target.mark_m[trainIndex ?? 0] ?? firstMark(target) ?? 0);
    const ends = [target.platform_from_m, target.platform_to_m].map((at) => (at === null ? mark : sign * at));
    const marks = [advice.mark, advice.worse?.mark].flatMap((one) => (one ? [sign * base.landmarks[one.index].at_m] : []));
    const begin = marks.length > 0 ? Math.min(...marks) : null;
    const fastest = limitAt(way, begin ?? mark, topSpeed(base, direction.key));
    const rate = begin !== null && begin < mark ? Math.min(BRAKE, fastest ** 2 / 2 / (mark - begin)) : BRAKE;
    return { near: Math.min(...ends), far: Math.max(...ends), mark, rate, begin };
  });
  const start = base.places.find((one) => one.key === trip.starts.place);
  way.origin = start ? sign * start.at_m : (way.stops[0]?.near ?? 0) - 3000;
  return way;
}

/** @param {Way} way @returns {Train} standing where the trip begins */
export function startTrain(way) {
  return { s: way.origin, speed: 0, next: 0, dwell: DWELL, slipping: 0, done: [], held: null, aims: false, over: way.stops.length === 0 };
}

/**
 * One second of its way.
 * @param {Train} train
 * @param {Way} way
 * @param {ReadonlySet<Event>} asked what is to happen on the way to its next stop
 * @returns {Train}
 */
export function drive(train, way, asked) {
  if (train.over) return train;
  if (train.dwell > 0) return { ...train, speed: 0, dwell: train.dwell - 1, held: train.dwell > 1 ? train.held : null };
  const stop = way.stops[train.next];
  if (!stop) return { ...train, speed: 0, over: true };
  const wanted = (/** @type {Event} */ one) => asked.has(one) && !train.done.includes(one);
  if (wanted("slip") && train.speed === 0) return drive({ ...train, slipping: SLIP, done: [...train.done, "slip"] }, way, asked);
  // Once it brakes for that stand, it stands there.
  const short = train.aims || (wanted("short") && stop.near - SHORT_M > train.s + FAR_ENOUGH_M);
  const over = wanted("overrun");
  const goal = short ? stop.near - SHORT_M : over ? stop.far + OVERRUN_M : stop.mark - 2;
  const moved = moveTo({ ...train, aims: short }, way, goal, stop.rate);
  if (moved.s < goal) return moved;
  if (short) return { ...moved, dwell: HELD, held: "short", aims: false, done: [...train.done, "short"] };
  const last = train.next + 1 >= way.stops.length;
  return { ...moved, dwell: over ? 2 * HELD : DWELL, held: over ? "overrun" : null, next: train.next + 1, done: [], over: last && !over };
}

/**
 * @param {Train} train
 * @param {Way} way
 * @param {number} goal
 * @param {number} rate
 * @returns {Train}
 */
function moveTo(train, way, goal, rate) {
  let want = limitAt(way, train.s, 40);
  for (const [from, , limit] of way.limits) {
    if (from > train.s) want = Math.min(want, Math.sqrt(limit ** 2 + 2 * BRAKE * (from - train.s)));
  }
  want = Math.min(want, Math.max(1, Math.sqrt(2 * rate * Math.max(0, goal - train.s)) - 0.3));
  const gain = train.slipping > 0 ? SLIP_GAIN : GAIN;
  const speed = Math.max(0, train.speed + Math.max(-2 * BRAKE, Math.min(gain, want - train.speed)));
  const slipping = Math.max(0, train.slipping - 1);
  if (goal - train.s <= Math.max(speed, 0.6)) return { ...train, s: goal, speed: 0, slipping };
  return { ...train, s: train.s + speed, speed, slipping };
}

/**
 * @param {Pick<Way, "limits">} way
 * @param {number} s
 * @param {number} most
 */
function limitAt({ limits }, s, most) {
  return Math.min(most, ...limits.filter(([a, b]) => a <= s && s <= b).map(([, , limit]) => limit));
}

/**
 * Whether it is out of the sky's sight: in the tunnel that was asked for.
 * @param {Train} train
 * @param {Way} way
 * @param {ReadonlySet<Event>} asked
 */
export function inTunnel({ s, next }, way, asked) {
  const stop = way.stops[next];
  return asked.has("tunnel") && stop !== undefined && s > stop.near - TUNNEL.from && s < stop.near - TUNNEL.to;
}

/**
 * Longitude and latitude of a place of the line.
 * @param {Way} way
 * @param {number} s
 */
export function placeAt({ geometry, sign }, s) {
  const at = sign * s;
  const found = geometry.findIndex(([, , along]) => along >= at);
  const i = found < 0 ? geometry.length - 1 : Math.max(1, found);
  const [a, b] = [geometry[i - 1], geometry[i]];
  const share = (at - a[2]) / (b[2] - a[2]);
  return { lon: a[0] + share * (b[0] - a[0]), lat: a[1] + share * (b[1] - a[1]) };
}

/**
 * A receiver whose error wanders by some metres; the same seed gives the same errors.
 * @param {number} seed
 */
export function receiver(seed) {
  let state = seed >>> 0;
  const random = () => {
    state = (Math.imul(state, 1664525) + 1013904223) >>> 0;
    return state / 2 ** 32;
  };
  // Three even draws are near enough to a bell.
  const bell = () => (random() + random() + random() - 1.5) * 2;
  let [east, north] = [0, 0];
  /**
   * @param {Way} way
   * @param {Train} train
   * @param {number} at
   */
  return (way, train, at) => {
    east = 0.98 * east + 0.6 * bell();
    north = 0.98 * north + 0.6 * bell();
    const { lat, lon } = placeAt(way, train.s);
    const degree = 111_195;
    const speed = Math.max(0, train.speed + 0.15 * bell());
    return { lat: lat + north / degree, lon: lon + east / degree / Math.cos((lat * Math.PI) / 180), accuracy: 5 + 5 * random(), at, speed: train.speed === 0 ? 0 : speed };
  };
}
