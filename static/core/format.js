/**
 * Figures as the trade writes them, in the units posted on the line. The catalogue of words
 * comes in from outside.
 *
 * @import {RouteInfo} from "./types.js"
 * @typedef {typeof import("../words/figures.js").en} FigureWords
 */

export const METRES_PER_CHAIN = 20.1168;
const CHAINS_PER_MILE = 80;
export const METRES_PER_YARD = 0.9144;

/**
 * A place as the line's posts count it: "31 mi 20 ch" or "12.345 km". Nothing else on the
 * tablet writes one; webapp/lines/posts.py writes the same and reads it where it is typed. `about`
 * rounds what is known no better to whole chains or 10 m.
 * @param {number} metres
 * @param {RouteInfo["distance_unit"]} unit
 * @param {Pick<FigureWords, "point">} w
 * @param {boolean} [about]
 */
export function placeAlong(metres, unit, w, about = false) {
  const size = Math.abs(metres);
  if (unit === "km") {
    const step = about ? 10 : 1;
    const all = Math.floor(size / step + 0.5) * step;
    const kilometres = (all / 1000).toFixed(3).replace(/0{1,2}$/, "").replace(".", w.point);
    return `${metres < 0 && all > 0 ? "-" : ""}${kilometres} km`;
  }
  const step = about ? 100 : 1;
  const all = Math.floor((size / METRES_PER_CHAIN) * 100 / step + 0.5) * step;
  const miles = Math.floor(all / (100 * CHAINS_PER_MILE));
  const [whole, hundredths] = ((all - miles * 100 * CHAINS_PER_MILE) / 100).toFixed(2).split(".");
  const rest = hundredths.replace(/0+$/, "");
  return `${metres < 0 && all > 0 ? "-" : ""}${miles} mi ${whole.padStart(2, "0")}${rest && w.point + rest} ch`;
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
