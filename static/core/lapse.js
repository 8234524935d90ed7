/**
 * When a pack is too old to be advice: the depot has not confirmed for long that it is the
 * right one. Then words stand in its place, never old figures.
 *
 * @import {Base} from "./types.js"
 * @import {Reading} from "./warnings.js"
 */

import { depotTime } from "./warnings.js";

/** Own number, as long as the depot keeps tombstones; a company may set `pack_days`. */
const PACK_DAYS = 60;
const DAY = 86_400_000;

/**
 * Days since the depot last named its packs, when that is too many; null while it is not.
 * Without contact since the start the later of the clock's readings counts.
 * @param {Base} base
 * @param {number} confirmedAt by the depot's clock
 * @param {Reading} reading
 * @returns {number | null}
 */
export function lapsedDays(base, confirmedAt, reading) {
  const most = base.settings.pack_days ?? PACK_DAYS;
  const days = (depotTime(reading) - confirmedAt) / DAY;
  return days > most ? Math.floor(days) : null;
}
