/**
 * How old something is, worked out from stored times at each paint, never by counting ticks.
 *
 * @import {FigureWords} from "./format.js"
 */

const MINUTE = 60_000;
const DAY = 86_400_000;

/**
 * @param {number | null} then
 * @param {number} now
 * @param {FigureWords} w
 * @returns {string} "" when it cannot be told
 */
export function ageWords(then, now, w) {
  if (then === null || now < then - MINUTE) return "";
  const minutes = Math.max(0, Math.floor((now - then) / MINUTE));
  if (minutes < 1) return w.justNow;
  if (minutes < 60) return w.minutesOld(minutes);
  const hours = Math.floor(minutes / 60);
  if (hours < 48) return w.hoursOld(hours, minutes - hours * 60);
  return w.daysOld(Math.floor(hours / 24));
}

/**
 * Local railway time of day, "05:12".
 * @param {number} time
 */
export function timeOfDay(time) {
  const date = new Date(time);
  return [date.getHours(), date.getMinutes()].map((n) => String(n).padStart(2, "0")).join(":");
}

/**
 * Local date, "2026-11-25".
 * @param {number} time
 */
export function dayOf(time) {
  const date = new Date(time);
  const parts = [date.getMonth() + 1, date.getDate()].map((n) => String(n).padStart(2, "0"));
  return `${date.getFullYear()}-${parts.join("-")}`;
}

/**
 * Time of day, with the date when that is another day.
 * @param {number} then
 * @param {number} now
 */
export function whenWords(then, now) {
  const day = dayOf(then);
  return day === dayOf(now) ? timeOfDay(then) : `${day} ${timeOfDay(then)}`;
}

/**
 * The last moment up to ``around`` at which the clock shows "HH:MM". In the night the clocks go
 * back a time comes twice; when they go forward one never comes, and then it is read as on a
 * watch that was not put forward.
 * @param {string} clock
 * @param {number} around
 */
export function lastTimeAt(clock, around) {
  const [hours, minutes] = clock.split(":").map(Number);
  const date = new Date(around);
  // What the clock is ahead or behind of UTC now, and was a day ago.
  const offsets = [around, around - DAY].map((time) => new Date(time).getTimezoneOffset());
  for (const daysAgo of [0, 1]) {
    const day = [date.getFullYear(), date.getMonth(), date.getDate() - daysAgo];
    const read = offsets.map((offset) => Date.UTC(day[0], day[1], day[2], hours, minutes + offset));
    const shown = read.filter((time) => timeOfDay(time) === clock);
    const past = (shown.length > 0 ? shown : read).filter((time) => time <= around);
    if (past.length > 0) return Math.max(...past);
  }
  return around;
}
