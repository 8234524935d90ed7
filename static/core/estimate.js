/**
 * Where the train is along its line: an estimate with two bounds. `s` counts metres in the
 * direction of the trip. A fix and what was known before are mixed so that the bounds hold
 * however their errors hang together: a weighted mean of two bounded values is bounded by
 * the same mean of the bounds. No variance is made smaller by repeating the same error.
 *
 * @import {Fix} from "./types.js"
 * @import {Geometry} from "./line.js"
 * @typedef {{lo: number, hi: number}} Bounds
 * @typedef {{speed: number | null, error: number, standing: boolean, forward: boolean}} Reading
 *   forward: on a trip under way a train that starts runs on; fixes that say otherwise for long
 *   enough still win, as strange ones
 * @typedef {{s: number, lo: number, hi: number, t: number, v: number, vlo: number, vhi: number,
 *   dir: -1 | 0 | 1, first: Bounds, anchor: Bounds}} Place
 * @typedef {{since: number, fixes: number, off: boolean, places: Place[]}} Strange
 * @typedef {{seen: number, place: Place}} Reach a place that was left behind, carried on from when it was seen
 * @typedef {{sign: 1 | -1, geometry: Geometry, top: number}} Way
 */

import {
  BESIDE_M,
  BOUND_PER_ACCURACY,
  BOUND_PER_OFF,
  GAIN_MPS2,
  LEAST_BOUND_M,
  LOSE_MPS2,
  MOST_PLACES,
  SHAKING_MS,
  SPEED_ERROR_MPS,
  STRANGE_FIXES,
  STRANGE_MS,
  TOP_SHARE,
} from "./follow-numbers.js";
import { placesOnLine } from "./line.js";

/**
 * The same place later, nothing seen since: anything a train can do lies between the bounds.
 * @param {Place} place
 * @param {number} t [ms]
 * @param {number} top highest speed of the line [m/s]
 * @returns {Place}
 */
export function later(place, t, top) {
  const seconds = Math.max(0, (t - place.t) / 1000);
  return {
    ...place,
    t,
    s: place.s + place.v * seconds,
    lo: place.lo + (place.vlo > 0 ? least(place.vlo, seconds) : -most(-place.vlo, seconds, top)),
    hi: place.hi + (place.vhi < 0 ? -least(-place.vhi, seconds) : most(place.vhi, seconds, top)),
  };
}

/**
 * Highest speed it may have by then.
 * @param {number} speed
 * @param {number} seconds
 * @param {number} top
 */
export function topOf(speed, seconds, top) {
  return Math.min(Math.max(speed, top * TOP_SHARE), Math.max(0, speed) + GAIN_MPS2 * seconds);
}

/**
 * @param {number} speed
 * @param {number} seconds
 * @param {number} top
 */
function most(speed, seconds, top) {
  const cap = Math.max(speed, top * TOP_SHARE);
  const gaining = Math.min(seconds, (cap - speed) / GAIN_MPS2);
  return speed * gaining + (GAIN_MPS2 / 2) * gaining * gaining + cap * (seconds - gaining);
}

/**
 * @param {number} speed
 * @param {number} seconds
 */
function least(speed, seconds) {
  const braking = Math.min(seconds, speed / LOSE_MPS2);
  return speed * braking - (LOSE_MPS2 / 2) * braking * braking;
}

/**
 * Take one fix in.
 * @param {Place[]} places what was known: one place, several possible ones, or none
 * @param {Strange | null} strange fixes in a row that fit none of them
 * @param {Way} way
 * @param {Fix} fix
 * @param {Reading} reading
 * @returns {{places: Place[], strange: Strange | null, fits: boolean, replaced: boolean}}
 */
export function observe(places, strange, way, fix, reading) {
  const seen = candidates(way, fix);
  const next = matched(places, seen, way, fix, reading);
  if (places.length === 0 && seen.length > 0) {
    return { places: seen.map((one) => begun(one, fix, way, reading)), strange: null, fits: true, replaced: true };
  }
  // What contradicts may as well be a train that runs back: no direction is taken for granted.
  const open = { ...reading, forward: false };
  if (next.length > 0) {
    // It fits by now, but goes on from what contradicted: that was not given up, it won.
    const won = strange !== null && agreed(strange, fix.at) && matched(strange.places, seen, way, fix, open).length > 0;
    return { places: next, strange: null, fits: true, replaced: won };
  }
  const off = seen.length === 0;
  const before = strange !== null && strange.off === off ? strange : null;
  const odd = {
    since: before?.since ?? fix.at,
    fixes: (before?.fixes ?? 0) + 1,
    off,
    places: before ? matched(before.places, seen, way, fix, open) : [],
  };
  if (!off && odd.places.length === 0) {
    // One jump after another: they agree with nothing, not even with each other.
    Object.assign(odd, { since: fix.at, fixes: 1, places: seen.map((one) => begun(one, fix, way, open)) });
  }
  if (off || !lasting(odd, fix.at)) return { places, strange: odd, fits: false, replaced: false };
  return { places: odd.places, strange: null, fits: true, replaced: true };
}

/**
 * How far the train may be by any place of late. A jump back that just fits what is known draws
 * the whole estimate after it, bounds and all: what was further on before may have been right.
 * @param {Reach[]} reach
 * @param {Place[]} places as the fix left them
 * @param {Way} way
 * @param {Fix} fix
 * @param {Reading} reading
 * @param {number} keep how long a place counts [ms]
 * @returns {Reach[]}
 */
export function reachOn(reach, places, way, fix, { speed, error }, keep) {
  const vhi = speed === null ? way.top : speed + error + SPEED_ERROR_MPS;
  const seen = places.filter((place) => place.t === fix.at).map((place) => ({ seen: fix.at, place }));
  const furthest = Math.max(-Infinity, ...seen.map(({ place }) => place.hi));
  const before = reach
    .filter((one) => fix.at - one.seen <= keep)
    .map((one) => ({ ...one, place: later({ ...one.place, vhi }, fix.at, way.top) }));
  return [...before.filter(({ place }) => place.hi > furthest), ...seen];
}

/**
 * Places a fix leaves of some; none: it contradicts them all.
 * @param {Place[]} places
 * @param {Way} way
 * @param {Fix} fix
 * @param {Reading} reading
 */
export function fitting(places, way, fix, reading) {
  return matched(places, candidates(way, fix), way, fix, reading);
}

/**
 * Strange for so long that the receiver cannot be blamed any more.
 * @param {Strange} strange
 * @param {number} t
 */
export function lasting(strange, t) {
  return t - strange.since >= STRANGE_MS && strange.fixes >= STRANGE_FIXES;
}

/**
 * Strange fixes on the line that agree with each other, for so long that they may be right.
 * @param {Strange} strange
 * @param {number} t
 */
export function agreed(strange, t) {
  return !strange.off && strange.fixes > 1 && t - strange.since >= SHAKING_MS;
}

/**
 * @typedef {{s: number, r: number}} Candidate
 * @param {Way} way
 * @param {Fix} fix
 * @returns {Candidate[]}
 */
function candidates(way, fix) {
  const r = Math.max(LEAST_BOUND_M, BOUND_PER_ACCURACY * fix.accuracy);
  return placesOnLine(way.geometry, fix.lat, fix.lon, r + BESIDE_M).map(({ at, off }) => ({
    s: way.sign * at,
    r: Math.max(r, BOUND_PER_OFF * off),
  }));
}

/**
 * @param {Place[]} places
 * @param {Candidate[]} seen
 * @param {Way} way
 * @param {Fix} fix
 * @param {Reading} reading
 * @returns {Place[]}
 */
function matched(places, seen, way, fix, reading) {
  const all = places.flatMap((place) => {
    const now = later(place, fix.at, way.top);
    return seen
      .filter(({ s, r }) => s - r <= now.hi && s + r >= now.lo)
      .map((one) => mixed(now, one, way, reading));
  });
  /** @type {Place[]} */
  const apart = [];
  for (const one of all) {
    const same = apart.some((other) => Math.abs(other.s - one.s) < one.s - one.lo);
    if (!same && apart.length < MOST_PLACES) apart.push(one);
  }
  // Of two ways to see it, the one that runs with the trip is the trip's.
  const ahead = apart.filter((one) => one.lo > one.first.hi);
  return ahead.length > 0 ? apart.filter((one) => one.hi >= one.first.lo) : apart;
}

/**
 * @param {Place} now
 * @param {Candidate} one
 * @param {Way} way
 * @param {Reading} reading
 * @returns {Place}
 */
function mixed(now, { s, r }, way, reading) {
  const width = (now.hi - now.lo) / 2;
  const g = r <= width ? width / (width + r) : 0;
  const lo = (1 - g) * now.lo + g * (s - r);
  const hi = (1 - g) * now.hi + g * (s + r);
  return { ...now, s: (1 - g) * now.s + g * s, lo, hi, ...speeds({ lo, hi }, now, reading, way.top) };
}

/**
 * @param {Candidate} one
 * @param {Fix} fix
 * @param {Way} way
 * @param {Reading} reading
 * @returns {Place}
 */
function begun({ s, r }, fix, way, reading) {
  const first = { lo: s - r, hi: s + r };
  return { s, ...first, t: fix.at, first, ...speeds(first, { dir: 0, anchor: first }, reading, way.top) };
}

/**
 * Speed along the trip with its bounds; without a sure direction it may be either. The
 * direction is sure when the whole of the bounds has left those of the last stand.
 * @param {Pick<Place, "lo" | "hi">} now
 * @param {Pick<Place, "dir" | "anchor">} before
 * @param {Reading} reading
 * @param {number} top
 * @returns {Pick<Place, "v" | "vlo" | "vhi" | "dir" | "anchor">}
 */
function speeds(now, before, { speed, error, standing, forward }, top) {
  const here = { lo: now.lo, hi: now.hi };
  const moved = now.lo > before.anchor.hi ? 1 : now.hi < before.anchor.lo ? -1 : 0;
  const anchor = moved !== 0 || standing ? here : before.anchor;
  const dir = moved !== 0 ? moved : standing ? 0 : before.dir;
  if (speed === null) return { v: 0, vlo: -top, vhi: top, dir, anchor };
  const wrong = SPEED_ERROR_MPS + error;
  if (dir === 0 && forward) return { v: speed, vlo: 0, vhi: speed + wrong, dir, anchor };
  if (dir === 0) return { v: 0, vlo: -speed - wrong, vhi: speed + wrong, dir, anchor };
  const [a, b] = [Math.max(0, speed - wrong) * dir, (speed + wrong) * dir];
  return { v: speed * dir, vlo: Math.min(a, b), vhi: Math.max(a, b), dir, anchor };
}
