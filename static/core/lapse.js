/**
 * When a pack is too old to be advice: the depot has not confirmed for long that it is the
 * right one. Then words stand in its place, never old figures.
 *
 * @import {Base} from "./types.js"
 * @import {Reading} from "./warnings.js"
 */

import { depotTime } from "./warnings.js";

/** Own number; a company may set `pack_days`. */
const PACK_DAYS = 60;
const DAY = 86_400_000;

/**
 * Days since the depot last named its packs, when that is too many; null while it is not.
 * Each clock is held against itself: one that is wrong, the depot's or the tablet's, makes no
 * pack older than it is, and what somebody says of the depot's time makes none younger.
 * @param {Base} base
 * @param {{at: number, by: number | null}} confirmed by the depot's clock, and by this tablet's;
 *   an app of before kept the first alone
 * @param {Reading} reading
 * @returns {number | null}
 */
export function lapsedDays(base, { at, by }, reading) {
  const most = base.settings.pack_days ?? PACK_DAYS;
  const days = (by === null ? depotTime(reading) - at : longest(at, by, reading)) / DAY;
  return days > most ? Math.floor(days) : null;
}

/**
 * @param {number} at
 * @param {number} by
 * @param {Reading} reading
 */
function longest(at, by, { now, offset, kept, heard }) {
  const behind = offset ?? kept;
  const byDepot = behind === null ? -Infinity : now + behind - at;
  return Math.max(now - by, byDepot, (heard ?? at) - at);
}
