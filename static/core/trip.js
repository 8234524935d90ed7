/**
 * What the driver chose, turned into the rows of a trip: each stop and each reduction on
 * the way with its advice, in order of travel.
 *
 * @import {Bar, Base, Call, Pack, Prep, Row, Target, Train, Trip, Restriction, TripRestriction, TripView, TripWarning, Warning} from "./types.js"
 * @import {FollowLine} from "./follow.js"
 * @import {Reading} from "./warnings.js"
 */

import { isOld, plannedState } from "./chain.js";
import { changedCalls, placeOf, reachesBack, startOf } from "./pattern.js";
import { proposedIndex } from "./proposal.js";
import { OTHER_FORMATION, barred, withoutWsp } from "./prepare.js";
import { lowered, tripRestrictions } from "./restrictions.js";
import { FLAG_NOTHING_ADDED, NO_STOP, NOT_COMPUTED, isAdvised, lookUp, noFigures, seasonOf, signOf } from "./table.js";
import { tripWarnings, warningFor } from "./warnings.js";

/**
 * @param {Pack} pack
 * @param {Prep} prep
 * @param {number} now
 * @param {string | null} day local date "YYYY-MM-DD"; null when nobody knows it
 * @param {{held: Warning[], restricted?: Restriction[], reading: Reading} | null} [warned] warnings and
 *   restrictions on this tablet
 * @returns {TripView | null} null while something is not chosen or not in the pack
 */
export function tripView(pack, prep, now, day, warned = null) {
  const base = pack.base;
  const trip = base.trips.find((one) => one.key === prep.trip);
  const planned = plannedState(base, prep, now);
  const direction = base.directions.find((one) => one.key === trip?.direction);
  if (!trip || !planned || !direction || prep.formation === null || prep.isolated === null || prep.wsp === null) return null;
  const trainIndex = trainFor(base, trip, prep);
  const warnings = warned ? tripWarnings(base, trip.direction, warned.held, warned.reading) : [];
  const restrictions = warned ? tripRestrictions(base, trip.direction, warned.restricted ?? [], warned.reading) : [];
  const bar = wholeBar(prep, trainIndex);
  const cell = { pack, trainIndex, state: planned.index, day, warnings, restrictions, prep, trip, bar };
  const called = changedCalls(base, trip, prep).map((call) => callRow(cell, call)).filter((row) => row !== null);
  const rows = reachable(cell, withReductions(cell, trip, called));
  const calls = rows.filter((row) => row.kind === "call");
  return {
    base,
    pack,
    trip,
    direction,
    trainIndex,
    train: trainIndex === null ? null : base.trains[trainIndex],
    state: planned.index,
    stateName: base.states[planned.index].name,
    w9: planned.raised ? String(planned.hours) : null,
    changed: planned.raised && !isOld(base, prep, now),
    signs: prep.signs ?? [],
    proposed: betterThan(base, prep, planned.index),
    off: prep.off ?? null,
    bar,
    withdrawn: false,
    rows,
    calls,
    warnings,
    restrictions,
  };
}

/**
 * Name of the proposed state, where the trip is planned with a better one.
 * @param {Base} base
 * @param {Prep} prep
 * @param {number} planned
 */
function betterThan(base, prep, planned) {
  const index = proposedIndex(base, prep);
  return index > planned ? base.states[index].name : null;
}

/**
 * The same trip without a single figure: its pack was withdrawn.
 * @param {TripView} view
 * @returns {TripView}
 */
export function withoutAdvice(view) {
  /** @param {Row} row @returns {Row} */
  const bare = (row) => ({ ...row, advice: { ...noFigures(NOT_COMPUTED), worse: null } });
  return { ...view, withdrawn: true, rows: view.rows.map(bare), calls: view.calls.map(bare) };
}

/**
 * Why no stop of this trip has advice: what the driver decided first, then what he said of the
 * brake, then a train that the pack does not know.
 * @param {Prep} prep
 * @param {number | null} trainIndex
 * @returns {Bar | null}
 */
function wholeBar(prep, trainIndex) {
  if (prep.off) return { why: "off", reason: prep.off };
  // Every figure takes the brake for whole: weaker than it should be, none holds.
  if (prep.brakeTest === "weak") return { why: "weak" };
  if (trainIndex !== null) return null;
  if (prep.formation === OTHER_FORMATION) return { why: "formation" };
  return { why: prep.isolated === "more" ? "isolated" : "train" };
}

/**
 * Index of the train in the table; null when the pack holds no such train.
 * @param {Base} base
 * @param {Trip} trip
 * @param {Prep} prep
 */
export function trainFor(base, trip, prep) {
  const index = base.trains.findIndex(
    (train) =>
      train.type === trip.train_type &&
      train.formation === prep.formation &&
      train.isolated_cars === prep.isolated,
  );
  return index < 0 ? null : index;
}

/**
 * @param {Base} base
 * @param {string} type
 * @returns {Train[]} one per formation, with all brakes working
 */
export function formations(base, type) {
  return base.trains.filter((train) => train.type === type && train.isolated_cars === 0);
}

/**
 * @param {Base} base
 * @param {string} type
 * @param {string | null} formation
 * @returns {number[]} numbers of isolated cars the pack has advice for
 */
export function isolatedChoices(base, type, formation) {
  return base.trains
    .filter((train) => train.type === type && train.formation === formation)
    .map((train) => train.isolated_cars)
    .toSorted((a, b) => a - b);
}

/**
 * @typedef {{pack: Pack, trainIndex: number | null, state: number, day: string | null,
 *   warnings: TripWarning[], restrictions: TripRestriction[], prep: Prep, trip: Trip, bar: Bar | null}} Cell
 * @param {Cell} cell
 * @param {Call} call
 * @returns {Row | null}
 */
function callRow(cell, call) {
  const index = cell.pack.base.targets.findIndex((target) => target.key === call.target);
  return index < 0 ? null : rowOf(cell, index, "call", call);
}

/**
 * @param {Cell} cell
 * @param {number} targetIndex
 * @param {Row["kind"]} kind
 * @param {Call | null} call
 * @returns {Row}
 */
function rowOf({ pack, trainIndex, state: planned, day, warnings, restrictions, prep, bar }, targetIndex, kind, call) {
  const target = pack.base.targets[targetIndex];
  const warned = warningFor(pack.base, target, trainIndex, planned, warnings);
  // The worse of what the driver chose and what is warned, at this stop alone.
  const state = Math.max(planned, warned?.rank ?? planned);
  const season = seasonOf(pack.base, target, day);
  const none = { advice: { ...noFigures(NOT_COMPUTED), worse: null }, by: [] };
  const cell = trainIndex === null ? null : { target: targetIndex, train: trainIndex, state, season };
  const { advice, by } = cell === null
    ? none
    : lowered(pack.base, pack.table, cell, lookUp(pack.base, pack.table, { ...cell, speed: null }), restrictions);
  return asPrepared(pack.base, prep, bar, { kind, target, targetIndex, call, season, advice, state, warned, lowered: by });
}

/**
 * What the driver said of the train and the trip, laid over what the pack says.
 * @param {Base} base
 * @param {Prep} prep
 * @param {Bar | null} bar of the whole trip
 * @param {Row} row
 * @returns {Row}
 */
function asPrepared(base, prep, bar, row) {
  if (bar) return barred(row, bar);
  const change = prep.calls?.[row.target.key];
  if (change === "unsure" || change === "platform") return barred(row, { why: change });
  if (prep.wsp !== "fault") return row;
  const here = row.season === 0 ? [] : base.listed.filter((place) => row.target.listed.includes(place.key));
  const listed = here.map((place) => base.states.findIndex((state) => state.key === place.state));
  return withoutWsp(base, row, Math.max(-1, ...listed));
}

/**
 * With another stopping pattern a train may come from further back, and faster, than any
 * trip of the pack: no figure holds then. Where it is not sure that it stops, it may not.
 * @param {Cell} cell
 * @param {Row[]} rows in order of travel
 * @returns {Row[]}
 */
function reachable({ pack, prep, trip, bar }, rows) {
  const changed = (prep.extra ?? []).length > 0 || Object.values(prep.calls ?? {}).some(mayPass);
  if (!changed || bar) return rows;
  let stood = startOf(pack.base, trip);
  return rows.map((row) => {
    const reached = row.bar || reachesBack(pack.base, trip.direction, row.target, stood);
    if (row.kind === "call" && !mayPass(prep.calls?.[row.target.key])) stood = placeOf(pack.base, row.target.key);
    return reached ? row : barred(row, { why: "pattern" });
  });
}

/** @param {import("./pattern.js").CallChange | undefined} change */
function mayPass(change) {
  return change === "passes" || change === "unsure";
}

/**
 * @param {Cell} cell
 * @param {Trip} trip
 * @param {Row[]} calls
 * @returns {Row[]}
 */
function withReductions(cell, trip, calls) {
  const base = cell.pack.base;
  const sign = signOf(base, trip.direction);
  /** @param {Target} target */
  const ahead = (target) => sign * (firstMark(target) ?? 0);
  const origin = base.places.find((place) => place.key === trip.starts.place);
  const from = origin ? sign * origin.at_m : -Infinity;
  const to = calls.length > 0 ? ahead(calls[calls.length - 1].target) : -Infinity;
  const between = base.targets
    .map((target, index) => ({ target, index }))
    .filter(({ target }) => target.kind === "reduction" && target.direction === trip.direction)
    .filter(({ target }) => ahead(target) > from && ahead(target) < to)
    .map(({ index }) => rowOf(cell, index, "reduction", null));
  return [...calls, ...between].toSorted((a, b) => ahead(a.target) - ahead(b.target));
}

/**
 * Where a target is: the mark of the first train that has one.
 * @param {Target} target
 */
export function firstMark(target) {
  return target.mark_m.find((mark) => mark !== null) ?? null;
}

/**
 * Time the company gives for the whole trip, and how many stops it cannot be told for.
 * @param {Row[]} rows
 */
export function allowance(rows) {
  const known = rows.filter((row) => isAdvised(row.advice));
  const seconds = known.reduce((sum, row) => sum + (row.advice.seconds ?? 0), 0);
  return { seconds, unknown: rows.length - known.length };
}

/**
 * How many stops are of each kind; together they are all stops, and each is one kind only.
 * Boards are no stops: those without a figure are counted beside them.
 * @typedef {{stops: number, changed: number, usual: number, noSpeed: number, none: number, untold: {stops: number,
 *   boards: number}}} Counts untold: rows without a figure
 * @param {Row[]} rows
 * @returns {Counts}
 */
export function countsOf(rows) {
  const stops = rows.filter((row) => row.kind === "call");
  const of = (/** @type {(row: Row) => boolean} */ test) => stops.filter(test).length;
  const usual = of(({ advice }) => isAdvised(advice) && Boolean(advice.flags & FLAG_NOTHING_ADDED));
  const known = of(({ advice }) => isAdvised(advice));
  const noSpeed = of(({ advice }) => advice.status === NO_STOP);
  const untold = { stops: stops.length - known, boards: rows.filter(({ kind, advice }) => kind === "reduction" && !isAdvised(advice)).length };
  return { stops: stops.length, changed: known - usual, usual, noSpeed, none: stops.length - known - noSpeed, untold };
}

/**
 * The earlier of the two brake marks of a row, along the line; null when there is none.
 * @param {Base} base
 * @param {Row} row
 */
export function earlierMark(base, row) {
  const sign = signOf(base, row.target.direction);
  const marks = [row.advice.mark, row.advice.worse?.mark ?? null]
    .filter((mark) => mark !== null)
    .map((mark) => base.landmarks[mark.index].at_m);
  return marks.length === 0 ? null : sign > 0 ? Math.min(...marks) : Math.max(...marks);
}

/**
 * What the follower has to know of a trip.
 * @param {TripView} view
 * @returns {FollowLine}
 */
export function followLine(view) {
  const { base, calls, trainIndex } = view;
  return {
    sign: view.direction.sign,
    geometry: base.geometry,
    walking: base.settings.walking_speed_mps,
    top: topSpeed(base, view.direction.key),
    stops: calls.map((row) => {
      const mark = row.target.mark_m[trainIndex ?? 0] ?? firstMark(row.target) ?? 0;
      return {
        from: row.target.platform_from_m ?? mark,
        to: row.target.platform_to_m ?? mark,
        earlier: earlierMark(base, row),
      };
    }),
  };
}

/**
 * Highest speed allowed anywhere in a direction; without limits no train of ours is faster
 * than 60 m/s.
 * @param {Base} base
 * @param {string} direction
 * @returns {number} [m/s]
 */
export function topSpeed(base, direction) {
  const limits = (base.limits?.[direction] ?? []).map(([, , speed]) => speed);
  return limits.length === 0 ? 60 : Math.max(...limits) * base.route.mps_per_unit;
}
