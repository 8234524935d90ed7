/**
 * What the depot's clock says, and whether the tablet's own is wrong.
 *
 * @import {FigureWords} from "./format.js"
 */

import { dayOf } from "./age.js";
import { CLOCK_WRONG_S, FAR_APART_S } from "./agreed.js";

export const CLOCK_WRONG_MS = CLOCK_WRONG_S * 1000;

/**
 * @param {number} sentAt tablet's clock when the question left
 * @param {number} cameAt tablet's clock when the answer was here
 * @param {string} serverTime RFC 3339
 * @returns {number | null} how far the tablet is behind the depot
 */
export function clockOffset(sentAt, cameAt, serverTime) {
  const server = Date.parse(serverTime);
  if (Number.isNaN(server)) return null;
  return Math.round(server - (sentAt + cameAt) / 2);
}

/**
 * @param {string | null} clock "HH:MM", may pass 24:00
 * @returns {number | null} minutes after midnight
 */
export function minutesOf(clock) {
  const found = /^(\d{1,2}):(\d{2})/.exec(clock ?? "");
  return found ? Number(found[1]) * 60 + Number(found[2]) : null;
}

/** So far apart, the depot's clock may be the wrong one. */
export const FAR_APART_MS = FAR_APART_S * 1000;

/**
 * @param {number | null} offset
 * @param {FigureWords} w
 * @returns {{wrong: boolean, by: string, slow: boolean, either: boolean}} either: the depot's may be wrong
 */
export function clockState(offset, w) {
  if (offset === null || Math.abs(offset) <= CLOCK_WRONG_MS) {
    return { wrong: false, by: "", slow: false, either: false };
  }
  const minutes = Math.round(Math.abs(offset) / 60_000);
  const hours = Math.round(minutes / 60);
  const days = Math.round(hours / 24);
  const by = minutes < 90 ? `${minutes} min` : hours < 48 ? `${hours} h` : w.days(days);
  return { wrong: true, by, slow: offset > 0, either: Math.abs(offset) > FAR_APART_MS };
}

/**
 * The day that decides which places are in season. A tablet whose clock is wrong must not
 * leave the leaf season early: the depot's clock counts where it is known.
 * @param {number} now
 * @param {number | null} offset how far the tablet is behind the depot
 * @param {number} fetchedAt when the pack came, by this tablet's clock
 * @returns {string | null} null: the clock was set back, nobody here knows the day
 */
export function seasonDay(now, offset, fetchedAt) {
  if (offset !== null) return dayOf(now + offset);
  return now < fetchedAt - CLOCK_WRONG_MS ? null : dayOf(now);
}

/**
 * A time in a file: RFC 3339 in UTC.
 * @param {number} time
 */
export function rfc3339(time) {
  return new Date(time).toISOString();
}
