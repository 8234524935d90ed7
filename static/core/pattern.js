/**
 * A stopping pattern that differs from the booked one, and advice switched off: set at a
 * stand, for this trip only. In doubt there is no advice, never the wrong station's.
 *
 * @import {Base, Call, Prep, Target, Trip} from "./types.js"
 * @typedef {"passes" | "unsure" | "platform"} CallChange
 *   passes: the train runs through; unsure: nobody knows; platform: another one than booked
 */

import { signOf } from "./table.js";

export const CALL_CHANGES = /** @type {const} */ (["passes", "unsure", "platform"]);
/** Why advice is switched off; the words stand in the catalogue. */
export const OFF_REASONS = /** @type {const} */ (["line", "diversion", "radio", "assisting", "other"]);

/**
 * The calls of a trip as the driver changed them, in order of travel.
 * @param {Base} base
 * @param {Trip} trip
 * @param {Pick<Prep, "calls" | "extra">} prep
 * @returns {Call[]}
 */
export function changedCalls(base, trip, { calls = {}, extra = [] }) {
  const kept = trip.calls.filter((call) => calls[call.target] !== "passes");
  const added = extra
    .filter((key) => !kept.some((call) => call.target === key))
    .map((target) => ({ target, arrive: null, depart: null, note: null }));
  if (added.length === 0) return kept;
  const sign = signOf(base, trip.direction);
  /** @param {Call} call */
  const ahead = (call) => sign * placeOf(base, call.target);
  return [...kept, ...added].toSorted((a, b) => ahead(a) - ahead(b));
}

/**
 * Places on the way where this trip is not booked to call.
 * @param {Base} base
 * @param {Trip} trip
 * @returns {Target[]} in order of travel
 */
export function extraChoices(base, trip) {
  const sign = signOf(base, trip.direction);
  const from = sign * startOf(base, trip);
  const last = trip.calls.at(-1);
  const to = last ? sign * placeOf(base, last.target) : from;
  return base.targets
    .filter((target) => target.kind === "stop" && target.direction === trip.direction)
    .filter((target) => !trip.calls.some((call) => call.target === target.key))
    .filter((target) => sign * placeOf(base, target.key) > from && sign * placeOf(base, target.key) < to)
    .toSorted((a, b) => sign * (placeOf(base, a.key) - placeOf(base, b.key)));
}

/**
 * Whether the pack's figures reach back to where this train last stands: they begin at the
 * furthest stand before the target on any trip of the pack. Beyond it a train may come faster.
 * @param {Base} base
 * @param {string} direction
 * @param {Target} target
 * @param {number} stoodAt where the train stands before it [m]
 */
export function reachesBack(base, direction, target, stoodAt) {
  const sign = signOf(base, direction);
  const at = placeOf(base, target.key);
  const stands = base.trips
    .filter((trip) => trip.direction === direction)
    .map((trip) => standBefore(base, trip, target, sign * at, sign))
    .filter((stand) => stand !== null);
  return stands.length > 0 && Math.min(...stands) <= sign * stoodAt + 1;
}

/**
 * @param {Base} base
 * @param {Trip} trip
 * @param {Target} target
 * @param {number} at
 * @param {1 | -1} sign
 * @returns {number | null} null: this trip does not count for the target
 */
function standBefore(base, trip, target, at, sign) {
  if (target.kind !== "reduction" && !trip.calls.some((call) => call.target === target.key)) return null;
  const stands = [startOf(base, trip), ...trip.calls.map((call) => placeOf(base, call.target))].map((one) => sign * one);
  const last = stands.at(-1) ?? -Infinity;
  const before = stands.filter((one) => one < at);
  return before.length === 0 || last < at ? null : Math.max(...before);
}

/**
 * @param {Base} base
 * @param {Trip} trip
 */
export function startOf(base, trip) {
  return base.places.find((place) => place.key === trip.starts.place)?.at_m ?? 0;
}

/**
 * @param {Base} base
 * @param {string} key of a target
 */
export function placeOf(base, key) {
  const target = base.targets.find((one) => one.key === key);
  const place = base.places.find((one) => one.key === target?.place);
  return place?.at_m ?? target?.mark_m.find((mark) => mark !== null) ?? 0;
}

/**
 * The stop on the card keeps its place when calls before it come or go.
 * @param {string[]} before keys of the calls
 * @param {string[]} after
 * @param {number} index of the card's stop
 */
export function sameStop(before, after, index) {
  const ahead = before.slice(index);
  const next = after.findIndex((key) => ahead.includes(key));
  return next < 0 ? Math.min(index, after.length) : next;
}
