/**
 * Where a train stands, in words for a report: at a platform, beyond it, or between two stations.
 * One place, and only when position is sure of it; else the driver is asked. All stations of the
 * line count, also where the trip does not call: the nearest two say most.
 *
 * @import {Base} from "./types.js"
 * @import {Geometry} from "./line.js"
 * @import {FollowState} from "./follow.js"
 * @typedef {typeof import("../words/en.js").words} Words
 * @typedef {{name: string, target: string | null, platform: string | null, near: number, far: number}} Station
 *   the ends of its platform in the direction of travel [m]; target: none where no train of this direction stops
 * @typedef {{kind: "at" | "beyond" | "between", station: Station, next: Station | null, before: number | null}} Spot
 *   between: station is the one behind, next the one ahead; before: metres to its platform, or past the platform, where
 *   the receiver is good enough to say so
 * @typedef {{spot: Spot | null, at: number | null, near: Spot[]}} Where at: along the line, as far as it is known;
 *   near: what the driver is most likely to choose, the likeliest first
 */

import { FIX_AGE_MS } from "./follow-numbers.js";
import { METRES_PER_YARD } from "./format.js";
import { placesOnLine } from "./line.js";

/** Only a receiver this good says which side of a platform's end the train is, or how far. [m] */
export const FINE_M = 15;
/**
 * A train that fills its platform stands some metres before the end, and the best receiver is wrong
 * by as much: up to here past the end it may still be in the platform ... [m]
 */
const END_M = 10;
/** ... and from here on it is surely not. */
const SURELY_M = 25;
const SETTLED_MS = 20_000;
/** A receiver that keeps to a false place does so for a minute, and something more. */
const FALSE_MS = 75_000;
/** So many fixes of a stand must agree, and good ones so nearly. */
const FIXES = 3;
const FINE_SPREAD_M = 20;
/** A receiver this far beside the line, and its own error, is on another line. [m] */
const BESIDE_M = 20;
/** A vague receiver under trees or between houses is wrong by more than it says. */
const VAGUE_M = 60;
const VAGUE_SHARE = 2;
/** ... and jumps for some seconds. */
const VAGUE_MS = 9_000;
/** Up to here from a platform it is named by that platform ... [m] */
const BEYOND_M = 300;
/** ... and its distance is said. */
const TELL_M = 500;
/** As many tiles as a driver takes in at a look. */
const MOST = 4;

/**
 * The stations of a line in the order of travel.
 * @param {Base} base
 * @param {string} direction
 * @returns {Station[]}
 */
export function stationsOf(base, direction) {
  const sign = base.directions.find((one) => one.key === direction)?.sign ?? 1;
  const stations = (base.places ?? []).flatMap((place) => {
    const here = base.targets.filter((one) => one.place === place.key && one.kind !== "reduction" && one.platform_from_m !== null);
    const own = here.find((one) => one.direction === direction) ?? null;
    // Where trips begin no train of their direction ever stops.
    const any = own ?? here[0];
    if (!any) return [];
    const ends = [any.platform_from_m ?? 0, any.platform_to_m ?? 0].map((at) => sign * at);
    return [{ name: any.name, target: own?.key ?? null, platform: own?.platform ?? null, near: Math.min(...ends), far: Math.max(...ends) }];
  });
  return stations.toSorted((a, b) => a.near - b.near);
}

/**
 * @typedef {{stations: Station[], sign: 1 | -1, geometry: Geometry, next: number | null}} Along next: where the
 *   trip's next stop is, in the direction of travel [m]
 * @param {FollowState} state at a stand
 * @param {Along} along
 * @param {number} now
 * @returns {Where}
 */
export function whereIs(state, along, now) {
  const { stations, sign, next } = along;
  const seen = isSure(state, now) ? seenAt(state, along) : null;
  if (!seen) return { spot: null, at: null, near: nearest(stations, next ?? state.places[0]?.s ?? null) };
  const spot = forward(spotAt(stations, seen), stations, state.doubt === "turned");
  const near = nearest(stations, seen.s);
  return { spot, at: sign * seen.s, near: spot ? [spot, ...near.filter((one) => !isSame(one, spot))] : near };
}

/**
 * One place, of now, that nothing contradicts.
 * @param {FollowState} state
 * @param {number} now
 */
function isSure(state, now) {
  return state.motion === "standing" && state.at !== null && state.strange === null && !isShaken(state)
    && now - state.places[0].t <= FIX_AGE_MS;
}

/**
 * Of two places one was false, and a false one lasts a minute at most.
 * @param {FollowState} state
 */
function isShaken({ shaken, fixAt }) {
  return shaken !== null && (fixAt ?? 0) - shaken <= FALSE_MS;
}

/**
 * Where the fixes of this stand lie, if they agree: one that jumps or is beside the line says nothing.
 * @typedef {{s: number, fine: boolean, most: number}} Seen most: it may be wrong by so much [m]
 * @param {FollowState} state
 * @param {Along} along
 * @returns {Seen | null}
 */
function seenAt({ places: [place], recent, slowSince, backAt, fixAt }, { geometry, sign }) {
  // Blind for long, the train may be anywhere: a jump that looks like a way must have had time to end.
  if (backAt !== null && (fixAt ?? 0) - backAt < SETTLED_MS) return null;
  const fixes = recent.filter((fix) => slowSince !== null && fix.at >= slowSince);
  if (fixes.length < FIXES) return null;
  const accuracy = Math.max(...fixes.map((fix) => fix.accuracy));
  const fine = accuracy <= FINE_M;
  if (!fine && fixes[fixes.length - 1].at - fixes[0].at < VAGUE_MS) return null;
  const found = fixes.map((fix) => placesOnLine(geometry, fix.lat, fix.lon, accuracy + BESIDE_M)
    .map(({ at }) => sign * at)
    .toSorted((a, b) => Math.abs(a - place.s) - Math.abs(b - place.s))[0] ?? NaN);
  const s = found.reduce((sum, one) => sum + one, 0) / found.length;
  const spread = Math.max(...found) - Math.min(...found);
  // A fix that is not on the line makes all of this no number, and so no place.
  if (!(spread <= (fine ? FINE_SPREAD_M : VAGUE_M) && s >= place.lo && s <= place.hi)) return null;
  return { s, fine, most: fine ? SURELY_M : Math.max(VAGUE_M, VAGUE_SHARE * accuracy) };
}

/**
 * @param {Station[]} stations
 * @param {Seen} seen
 * @returns {Spot | null} null: it may be one or the other
 */
function spotAt(stations, { s, fine, most }) {
  const index = stations.findIndex((one) => s <= one.far + SURELY_M);
  const [station, behind] = [stations[index], stations[index - 1]];
  if (!station) {
    const last = stations.at(-1);
    return last && s - most > last.far ? { kind: "beyond", station: last, next: null, before: fine ? s - last.far : null } : null;
  }
  const inside = fine ? s >= station.near - END_M && s <= station.far + END_M : s - most >= station.near - SURELY_M && s + most <= station.far + SURELY_M;
  if (inside) return { kind: "at", station, next: null, before: null };
  if (!behind || s + most >= station.near || s - most <= behind.far) return null;
  if (s - behind.far <= BEYOND_M && s - behind.far < station.near - s) {
    return { kind: "beyond", station: behind, next: null, before: fine ? s - behind.far : null };
  }
  const before = station.near - s;
  return { kind: "between", station: behind, next: station, before: fine && before <= TELL_M ? before : null };
}

/**
 * Of a train that runs back it is not known what is beyond, and what before.
 * @param {Spot | null} spot
 * @param {Station[]} stations
 * @param {boolean} turned
 * @returns {Spot | null}
 */
function forward(spot, stations, turned) {
  if (!spot || !turned || spot.kind === "at") return spot;
  const next = stations[stations.indexOf(spot.station) + 1] ?? null;
  return next && spotOf("between", spot.station, next);
}

/**
 * @param {Station[]} stations
 * @param {number | null} s
 * @returns {Spot[]}
 */
export function nearest(stations, s) {
  if (s === null) return [];
  const all = stations.flatMap((station, i) => {
    const next = stations[i + 1] ?? null;
    const spots = [
      { spot: spotOf("at", station, null), from: station.near, to: station.far },
      { spot: spotOf("beyond", station, null), from: station.far + 1, to: Math.min(station.far + BEYOND_M, next?.near ?? Infinity) },
    ];
    return next ? [...spots, { spot: spotOf("between", station, next), from: station.far + 1, to: next.near - 1 }] : spots;
  });
  const apart = all.map(({ spot, from, to }) => ({ spot, apart: Math.max(from - s, s - to, 0) }));
  return apart.toSorted((a, b) => a.apart - b.apart).slice(0, MOST).map(({ spot }) => spot);
}

/**
 * @param {Spot["kind"]} kind
 * @param {Station} station
 * @param {Station | null} next
 * @returns {Spot}
 */
function spotOf(kind, station, next) {
  return { kind, station, next, before: null };
}

/** @param {Spot} a @param {Spot} b */
function isSame(a, b) {
  return a.kind === b.kind && a.station.name === b.station.name;
}

/**
 * Whether a spot that the driver chose agrees with where position is: else the position is not the report's.
 * @param {Spot} spot
 * @param {number} s in the direction of travel [m]
 */
export function agrees({ kind, station, next }, s) {
  if (kind === "at") return s >= station.near - VAGUE_M && s <= station.far + VAGUE_M;
  const to = kind === "between" && next ? next.near : station.far + BEYOND_M;
  return s >= station.far - VAGUE_M && s <= to + VAGUE_M;
}

/**
 * What a report says of a spot: the stop it is about, and the words where the stop alone would not be true.
 * @param {Spot} spot
 * @param {Base["route"]["distance_unit"]} unit
 * @param {Words} w
 * @returns {{target: string | null, place: string}}
 */
export function reportOf({ kind, station, next, before }, unit, w) {
  if (kind === "at") return { target: station.target, place: station.target ? "" : station.name };
  const far = before === null ? "" : tens(before, unit, w);
  if (kind === "beyond") return { target: station.target, place: w.where.beyond(station.name, far) };
  // It is about the approach to the station ahead.
  return { target: next?.target ?? null, place: w.where.between(station.name, next?.name ?? "", far) };
}

/**
 * @param {number} metres
 * @param {Base["route"]["distance_unit"]} unit
 * @param {Words} w
 */
function tens(metres, unit, w) {
  const count = Math.round((unit === "km" ? metres : metres / METRES_PER_YARD) / 10) * 10;
  if (count === 0) return "";
  return unit === "km" ? `${count} m` : w.figures.yards(count);
}

/**
 * @param {Spot} spot
 * @param {Words} w
 */
export function tileWords({ kind, station, next }, w) {
  if (kind === "between") return capital(w.where.between(station.name, next?.name ?? "", ""));
  if (kind === "beyond") return capital(w.where.beyond(station.name, ""));
  return station.platform ? `${station.name}, ${w.brief.platform(station.platform)}` : station.name;
}

/** @param {string} text */
function capital(text) {
  return text.charAt(0).toUpperCase() + text.slice(1);
}
