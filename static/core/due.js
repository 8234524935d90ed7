/**
 * Which trips to offer first: those that leave next, and those that a time or a number finds.
 *
 * @import {Trip} from "./types.js"
 */

import { minutesOf } from "./clock.js";

/** A train a few minutes late is still to be prepared; own number. */
const LATE_MIN = 15;
const DAY_MIN = 24 * 60;

/**
 * The trips that leave next, by the tablet's clock; one that has no time of departure is none.
 * @param {Trip[]} trips
 * @param {number} now minutes after midnight
 * @param {number} most
 * @returns {Trip[]} the next one first
 */
export function dueNext(trips, now, most) {
  return trips
    .flatMap((trip) => {
      const leaves = minutesOf(trip.starts.depart);
      return leaves === null ? [] : [{ trip, wait: (leaves - now + LATE_MIN + DAY_MIN) % DAY_MIN }];
    })
    .toSorted((a, b) => a.wait - b.wait)
    .slice(0, most)
    .map(({ trip }) => trip);
}

/**
 * Trips that a time ("0512", "5:12") or a part of their number or name finds.
 * @param {Trip[]} trips
 * @param {string} asked
 */
export function foundTrips(trips, asked) {
  const words = asked.trim().toLowerCase();
  const digits = words.replaceAll(/\D/g, "");
  if (words === "") return trips;
  const time = /^\d{1,2}[:.]?\d\d$/.test(words) ? digits.padStart(4, "0") : /^[\d:.]+$/.test(words) ? digits : null;
  return trips.filter(({ key, name, starts }) => {
    const leaves = (starts.depart ?? "").replace(":", "");
    // "5:12" is not asked of the 15:12, whose name has it too.
    return key.toLowerCase().includes(words) || (time === null ? name.toLowerCase().includes(words) : leaves.startsWith(time));
  });
}
