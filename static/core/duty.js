/**
 * A duty: trips, empty moves, relief and changes of unit in the order in which the driver
 * put them. Where the train, its end or its driver is another one, preparation is asked again.
 *
 * @import {Base, OutboxRow, Prep, Trip} from "./types.js"
 * @typedef {{kind: "trip", trip: string} | {kind: "empty" | "relief" | "unit"}} Part
 * @typedef {{route: string, parts: Part[], at: number, began: number}} Duty at: the part in hand
 */

/** Parts that are no trip of the pack. */
export const OTHER_PARTS = /** @type {const} */ (["empty", "relief", "unit"]);

/**
 * @param {string} route
 * @param {number} now
 * @returns {Duty}
 */
export function newDuty(route, now) {
  return { route, parts: [], at: 0, began: now };
}

/**
 * @param {Duty} duty
 * @param {Part} part
 * @returns {Duty}
 */
export function withPart(duty, part) {
  return { ...duty, parts: [...duty.parts, part] };
}

/**
 * @param {Duty} duty
 * @param {number} index
 * @returns {Duty} the part in hand stays the part in hand
 */
export function withoutPart(duty, index) {
  const parts = duty.parts.toSpliced(index, 1);
  return { ...duty, parts, at: Math.max(0, index < duty.at ? duty.at - 1 : Math.min(duty.at, parts.length - 1)) };
}

/**
 * The trip chosen in the Brief is the part in hand, if the duty has it.
 * @param {Duty} duty
 * @param {string} trip
 * @returns {Duty}
 */
export function atTrip(duty, trip) {
  const ahead = duty.parts.findIndex((part, i) => i >= duty.at && part.kind === "trip" && part.trip === trip);
  const any = duty.parts.findIndex((part) => part.kind === "trip" && part.trip === trip);
  return { ...duty, at: ahead >= 0 ? ahead : any >= 0 ? any : duty.at };
}

/**
 * The next trip after the part in hand, and whether preparation must be asked before it.
 * @param {Duty | null} duty
 * @param {Base} base
 * @returns {{at: number, trip: Trip, between: Part[]} | null} null: the duty has no further trip
 */
export function nextTrip(duty, base) {
  if (!duty || duty.route !== base.route.key) return null;
  const at = duty.parts.findIndex((part, i) => i > duty.at && part.kind === "trip");
  const part = duty.parts[at];
  const trip = part?.kind === "trip" ? base.trips.find((one) => one.key === part.trip) : undefined;
  return trip ? { at, trip, between: duty.parts.slice(duty.at + 1, at) } : null;
}

/**
 * Whether the train of the next trip is, or may be, another than the one prepared: other
 * type or formation, the other end, a start where the last trip did not end, or something
 * between that parts, joins or moves it.
 * @param {Base} base
 * @param {Prep | null} prep
 * @param {Trip} trip
 * @param {Part[]} between
 */
export function asksAgain(base, prep, trip, between = []) {
  const last = base.trips.find((one) => one.key === prep?.trip);
  if (!prep || !last) return true;
  const same = last.train_type === trip.train_type && prep.formation === trip.formation;
  return !same || last.direction !== trip.direction || between.length > 0 || endOf(base, last) !== trip.starts.place;
}

/**
 * Place at which a trip ends.
 * @param {Base} base
 * @param {Trip} trip
 */
function endOf(base, trip) {
  const last = trip.calls.at(-1)?.target;
  return base.targets.find((one) => one.key === last)?.place ?? null;
}

/**
 * This tablet's own reports since the duty began, in the order in which things were met.
 * @param {{item: OutboxRow["item"] | null}[]} rows those waiting and those that arrived
 * @param {number} began
 * @returns {{at: number, body: import("./types.js").ReportBody}[]}
 */
export function metOnDuty(rows, began) {
  const reports = rows.flatMap(({ item }) => (item?.kind === "report" ? [item] : []));
  const replaced = new Set(reports.map(({ body }) => body.supersedes));
  return reports
    .filter(({ id }) => !replaced.has(id))
    .map(({ observed_at, body }) => ({ at: Date.parse(observed_at ?? ""), body }))
    .filter(({ at }) => at >= began)
    .toSorted((a, b) => a.at - b.at);
}
