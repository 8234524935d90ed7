/**
 * Figures as the trade writes them, in the units posted on the line. The catalogue of words
 * comes in from outside.
 *
 * @import {RouteInfo} from "./types.js"
 * @typedef {typeof import("../words/figures.js").en} FigureWords
 */

export const METRES_PER_CHAIN = 20.1168;
const CHAINS_PER_MILE = 80;
const METRES_PER_YARD = 0.9144;

/**
 * Place on the line: "32 m 10 ch" or "12.3 km".
 * @param {number} metres
 * @param {RouteInfo["distance_unit"]} unit
 * @param {FigureWords} w
 */
export function chainage(metres, unit, w) {
  if (unit === "km") return `${(metres / 1000).toFixed(1).replace(".", w.point)} km`;
  const { miles, chains } = milesChains(metres);
  return `${miles} m ${String(chains).padStart(2, "0")} ch`;
}

/**
 * An end of a stretch, as a notice has it: chains, or kilometres to the metre where they say so.
 * @param {number} metres
 * @param {RouteInfo["distance_unit"]} unit
 * @param {FigureWords} w
 */
export function noticePlace(metres, unit, w) {
  if (unit !== "km") return chainage(metres, unit, w);
  return `${(metres / 1000).toFixed(3).replace(/0{1,2}$/, "").replace(".", w.point)} km`;
}

/**
 * @param {number} metres
 * @returns {{miles: number, chains: number}}
 */
export function milesChains(metres) {
  const all = Math.round(metres / METRES_PER_CHAIN);
  const miles = Math.floor(all / CHAINS_PER_MILE);
  return { miles, chains: all - miles * CHAINS_PER_MILE };
}

/**
 * @param {number} miles
 * @param {number} chains
 */
export function metresOf(miles, chains) {
  return (miles * CHAINS_PER_MILE + chains) * METRES_PER_CHAIN;
}

/** @param {RouteInfo["speed_unit"]} unit */
export function speedUnit(unit) {
  return unit === "kmh" ? "km/h" : "mph";
}

/**
 * @param {number} speed
 * @param {RouteInfo["speed_unit"]} unit
 */
export function speedWords(speed, unit) {
  return `${speed} ${speedUnit(unit)}`;
}

/**
 * A distance short of something, up to the next 5: metres on a line in km, yards elsewhere.
 * @param {number} metres
 * @param {RouteInfo["distance_unit"]} unit
 * @param {FigureWords} w
 */
export function shortWords(metres, unit, w) {
  if (unit === "km") return `${Math.ceil(metres / 5) * 5} m`;
  return w.yards(Math.ceil(metres / METRES_PER_YARD / 5) * 5);
}

/**
 * A ceiling as the dial shows it, downward. Below the first mark of a coarse dial it is a
 * five, and below that it stays as it is: nothing is rounded down to a stand.
 * @param {number} speed
 * @param {number} dial
 */
export function dialSpeed(speed, dial) {
  const mark = speed >= dial ? dial : 5;
  return speed < mark ? speed : Math.floor(speed / mark) * mark;
}

/**
 * A gradient as it stands on the post: "1 in 70".
 * @param {number} ratio
 * @param {FigureWords} w
 */
export function gradientWords(ratio, w) {
  if (Math.abs(ratio) < 1 / 2000) return w.level;
  return w.gradient(Math.round(1 / Math.abs(ratio)));
}

/**
 * Seconds in full: "2 min 10 s".
 * @param {number} seconds
 */
export function durationWords(seconds) {
  const minutes = Math.floor(seconds / 60);
  const rest = Math.round(seconds - minutes * 60);
  if (minutes === 0) return `${rest} s`;
  return rest === 0 ? `${minutes} min` : `${minutes} min ${rest} s`;
}

/**
 * Adhesion without needless zeros, as "0.03".
 * @param {number} value
 * @param {FigureWords} w
 */
export function adhesionWords(value, w) {
  return value.toFixed(3).replace(/0$/, "").replace(".", w.point);
}
