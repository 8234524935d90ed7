/**
 * Temporary speed restrictions as they are held here. The notice is the authority: what is
 * held only ever lowers a "not above" of the card. Brake marks stay worked from line speed,
 * since a restriction that is lifted early leaves a driver faster than a lower one assumed.
 *
 * @import {Advice, Answer, Base, HeldRestrictions, PlainAdvice, Restriction, Table, TripRestriction} from "./types.js"
 * @import {Reading} from "./warnings.js"
 * @typedef {{target: number, train: number, state: number, season: number}} Cell
 */

import { whenWords } from "./age.js";
import { FASTEST_RESTRICTION, RESTRICTION_NEAR_M } from "./agreed.js";
import { dialSpeed } from "./format.js";
import { jsonOf } from "./sync.js";
import { OK, signOf } from "./table.js";
import { depotTime, hasBegun } from "./warnings.js";

const UNITS = new Set(["mph", "kmh"]);
/** A conversion that comes out a hair below a whole unit is that unit. */
const HAIR = 1e-6;

/** @returns {HeldRestrictions} of a tablet that has not asked yet */
export function noRestrictions() {
  return { rows: [], at: null, etag: null, refused: false, broken: false };
}

/**
 * What was kept on the disk. Half of it is not taken for the whole.
 * @param {any} kept
 * @returns {HeldRestrictions}
 */
export function restrictionsKept(kept) {
  if (kept === undefined) return noRestrictions();
  if (!areRows(kept?.rows) || !Number.isFinite(kept.at)) return { ...noRestrictions(), broken: true };
  const { rows, at, etag, refused } = kept;
  return { rows, at, etag: typeof etag === "string" ? etag : null, refused: refused === true, broken: false };
}

/**
 * What is held after an answer of the depot. One that cannot be read changes nothing but
 * that it is said; one that is not the depot's changes nothing at all.
 * @param {HeldRestrictions} held
 * @param {Answer & {etag: string | null}} answer
 * @param {number} now by the depot's clock
 * @returns {HeldRestrictions}
 */
export function afterAnswer(held, answer, now) {
  if (!answer.ours) return held;
  if (answer.status === 304 && held.etag !== null) return { ...held, at: now, refused: false };
  if (answer.status !== 200) return held;
  const body = jsonOf(answer);
  const at = Date.parse(body?.server_time ?? "");
  // Without a tag the whole is asked for again: a newer app may be able to read it.
  if (Number.isNaN(at) || !areRows(body.items)) return { ...held, etag: null, refused: true };
  return { rows: body.items, at, etag: answer.etag, refused: false, broken: false };
}

/**
 * @param {unknown} rows
 * @returns {rows is Restriction[]}
 */
function areRows(rows) {
  return Array.isArray(rows) && rows.every(isRestriction) && new Set(rows.map(({ id }) => id)).size === rows.length;
}

/** @param {any} one */
function isRestriction(one) {
  const texts = ["id", "line", "direction", "datum", "reference"].every((name) => typeof one?.[name] === "string");
  if (!texts || !UNITS.has(one.unit) || ![one.from_m, one.to_m, one.speed_mps].every(Number.isFinite)) return false;
  if (!Number.isInteger(one.speed) || one.speed < 1 || one.speed > FASTEST_RESTRICTION || !(one.speed_mps > 0)) return false;
  return Number.isInteger(one.rev) && isTime(one.from_at) && (one.until_at === null || isTime(one.until_at));
}

/** @param {unknown} text */
function isTime(text) {
  return typeof text === "string" && !Number.isNaN(Date.parse(text));
}

/**
 * Restrictions of one line and direction, in the order in which a train meets them. None
 * ends by this tablet's clock: one whose end has passed counts on, and says so.
 * @param {Base} base
 * @param {string} direction
 * @param {Restriction[]} held
 * @param {Reading} reading
 * @returns {TripRestriction[]}
 */
export function tripRestrictions(base, direction, held, reading) {
  const now = depotTime(reading);
  const sign = signOf(base, direction);
  return held
    .filter((one) => one.line === base.route.key && isWay(base, one.direction, direction))
    .map((restriction) => {
      const [from, until] = [restriction.from_at, restriction.until_at ?? ""].map((text) => Date.parse(text));
      const placed = restriction.datum === base.route.datum;
      const ends = [restriction.from_m, restriction.to_m].map((at) => sign * at);
      return {
        restriction,
        begun: hasBegun(restriction, reading),
        speed: shownSpeed(base, restriction),
        // On another mileage nobody knows where it lies: then it lies everywhere.
        near: placed ? Math.min(...ends) - RESTRICTION_NEAR_M : -Infinity,
        far: placed ? Math.max(...ends) + RESTRICTION_NEAR_M : Infinity,
        placed,
        from: whenWords(from, now),
        until: Number.isNaN(until) ? null : whenWords(until, now),
        over: !Number.isNaN(until) && until <= now,
      };
    })
    .toSorted((a, b) => a.near - b.near || (a.restriction.id < b.restriction.id ? -1 : 1));
}

/**
 * A direction this pack does not know may be this one.
 * @param {Base} base
 * @param {string} way
 * @param {string} direction
 */
function isWay(base, way, direction) {
  return way === direction || !base.directions.some((one) => one.key === way);
}

/**
 * In the units posted on the line, down to a mark of the dial; never 0, which is no speed.
 * @param {Base} base
 * @param {Restriction} one
 */
function shownSpeed({ route }, { speed, unit, speed_mps }) {
  const posted = unit === route.speed_unit ? speed : Math.max(1, Math.floor(speed_mps / route.mps_per_unit + HAIR));
  return dialSpeed(posted, route.dial);
}

/**
 * The advice with the speeds that are shown lowered to the restrictions in force, and the
 * ids of those that lowered one. Nothing else changes: no mark, no step, no status.
 * @param {Base} base
 * @param {Table} table
 * @param {Cell} cell
 * @param {Advice} advice
 * @param {TripRestriction[]} restrictions
 * @returns {{advice: Advice, by: string[]}}
 */
export function lowered(base, table, cell, advice, restrictions) {
  const live = restrictions.filter((one) => one.begun);
  if (live.length === 0) return { advice, by: [] };
  /** @type {Set<string>} */
  const by = new Set();
  const plain = loweredOne(base, table, cell, advice, live, by);
  const worse = advice.worse && loweredOne(base, table, { ...cell, state: cell.state + 1 }, advice.worse, live, new Set());
  return { advice: { ...plain, worse }, by: [...by].toSorted() };
}

/**
 * @template {PlainAdvice} T
 * @param {Base} base
 * @param {Table} table
 * @param {Cell} cell
 * @param {T} advice
 * @param {TripRestriction[]} live
 * @param {Set<string>} by gets the ids of those that lowered a speed at a place
 * @returns {T}
 */
function loweredOne(base, table, { season, target, state, train }, advice, live, by) {
  if (advice.status !== OK) return advice;
  const { direction, mark_m } = base.targets[target];
  const sign = signOf(base, direction);
  const length = base.trains[train].length_m;
  /** A train is under a restriction until its rear has left it. @param {number} at @param {number} on */
  const over = (at, on) => live.filter(({ near, far }) => on >= near && at - length <= far);
  const picked = table.columns.speeds[season][target][state][train];
  const speeds = advice.speeds.map((one, i) => {
    const at = sign * base.landmarks[picked[i][0]].at_m;
    const lower = over(at, at).filter(({ speed }) => speed < one.speed);
    const least = Math.min(one.speed, ...lower.map(({ speed }) => speed));
    for (const { speed, restriction } of lower) if (speed === least) by.add(restriction.id);
    return { ...one, speed: least };
  });
  const stop = sign * Number(mark_m[train]);
  const onRunIn = advice.run_in ? over(stop - Number(advice.brake), stop).map(({ speed }) => speed) : [];
  return { ...advice, speeds, run_in: advice.run_in && Math.min(advice.run_in, ...onRunIn) };
}
