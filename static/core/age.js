/**
 * How old something is, worked out from stored times at each paint, never by counting ticks.
 *
 * @import {FigureWords} from "./format.js"
 */

const MINUTE = 60_000;

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
 * The moment nearest to ``around`` at which the clock shows "HH:MM" and that is not after it.
 * @param {string} clock
 * @param {number} around
 */
export function lastTimeAt(clock, around) {
  const [hours, minutes] = clock.split(":").map(Number);
  const date = new Date(around);
  date.setHours(hours, minutes, 0, 0);
  if (date.getTime() > around) date.setDate(date.getDate() - 1);
  return date.getTime();
}
