/**
 * Where a position may be on a line. A line that crosses itself or runs beside itself has
 * more than one such place: all are given, whoever asks must choose by what came before.
 *
 * @typedef {[number, number, number][]} Geometry longitude, latitude, metres along the line
 * @typedef {{at: number, off: number}} OnLine metres along the line and beside it
 */

const DEGREE_M = (Math.PI / 180) * 6_371_008.8;

/**
 * @param {number} lat0
 * @param {number} lon0
 * @param {number} lat
 * @param {number} lon
 * @returns {{x: number, y: number}} metres east and north
 */
export function offset(lat0, lon0, lat, lon) {
  const squeeze = Math.cos(((lat + lat0) * Math.PI) / 360);
  return { x: (lon - lon0) * DEGREE_M * squeeze, y: (lat - lat0) * DEGREE_M };
}

/**
 * Every place of the line within reach of a position: of each stretch that comes near, the
 * nearest point.
 * @param {Geometry} geometry
 * @param {number} lat
 * @param {number} lon
 * @param {number} reach [m]
 * @returns {OnLine[]}
 */
export function placesOnLine(geometry, lat, lon, reach) {
  /** @type {OnLine[]} */
  const found = [];
  const squeeze = DEGREE_M * Math.cos((lat * Math.PI) / 180);
  let near = false;
  for (let i = 1; i < geometry.length; i++) {
    const one = nearestOf(geometry[i - 1], geometry[i], lat, lon, squeeze);
    const last = found[found.length - 1];
    if (one.off > reach) near = false;
    else if (!near) near = found.push(one) > 0;
    else if (one.off < last.off) found[found.length - 1] = one;
  }
  return found;
}

/**
 * @param {Geometry[number]} a
 * @param {Geometry[number]} b
 * @param {number} lat
 * @param {number} lon
 * @param {number} squeeze metres of one degree of longitude
 * @returns {OnLine}
 */
function nearestOf(a, b, lat, lon, squeeze) {
  const ax = (a[0] - lon) * squeeze;
  const ay = (a[1] - lat) * DEGREE_M;
  const dx = (b[0] - a[0]) * squeeze;
  const dy = (b[1] - a[1]) * DEGREE_M;
  const length2 = dx * dx + dy * dy;
  const share = length2 > 0 ? Math.min(1, Math.max(0, -(ax * dx + ay * dy) / length2)) : 0;
  return { at: a[2] + share * (b[2] - a[2]), off: Math.hypot(ax + share * dx, ay + share * dy) };
}
