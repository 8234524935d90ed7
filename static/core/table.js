/**
 * The safe look-up in a braking table. Gives the same answers as webapp/lines/lookup.py,
 * in integers wherever two languages could round differently.
 *
 * What the columns are and how each is read between two knots stands in columns.js, which is
 * written from the same list that Python reads.
 *
 * @import {Base, Table, Target, Advice, PlainAdvice, BrakeMark} from "./types.js"
 * @typedef {{target: number, train: number, state: number, season: number, speed: number | null}} Query
 */

import { ALL_THE_WAY, COLUMNS, FLAGS } from "./columns.js";

export { ALL_THE_WAY };
export const OK = 0;
export const NO_STOP = 1;
export const NOT_COMPUTED = 2;
export const FLAG_WSP = FLAGS.expect_wsp;
export const FLAG_NOTHING_ADDED = FLAGS.nothing_added;
export const FLAG_LESS_COVER = FLAGS.less_cover;
/** One rail state worse than chosen, this advice may not do. A pack of before says nothing of it. */
export const FLAG_NO_STATE_IN_HAND = FLAGS.no_state_in_hand;
export const FLAG_NO_ROOM = FLAGS.no_room;
const ANSWERED = COLUMNS.filter(({ answered }) => answered);

/**
 * Advice for one approach, with the next worse rail state beside it.
 * @param {Base} base
 * @param {Table} table
 * @param {Query} query speed in posted units, a part of a unit counting as a whole one;
 *   null: as fast as a train comes here, each rail state at its own approach speed
 * @returns {Advice}
 */
export function lookUp(base, table, query) {
  const worse = query.state + 1;
  return {
    ...oneState(base, table, query),
    worse: worse < base.states.length ? oneState(base, table, { ...query, state: worse }) : null,
  };
}

/**
 * @param {Base} base
 * @param {Table} table
 * @param {Query} query
 * @returns {PlainAdvice}
 */
function oneState(base, table, query) {
  const target = base.targets[query.target];
  const mark = target.mark_m[query.train];
  const speed = query.speed ?? approachSpeed(target, table, query);
  const span = speed === null ? null : knotsAround(table.knots, Math.ceil(speed));
  if (mark === null || span === null) return noFigures(NOT_COMPUTED);
  /** @param {string} name */
  const cell = (name) =>
    table.columns[name][query.season][query.target][query.state][query.train];
  const [low, high] = span;
  const status = Math.max(cell("status")[low], cell("status")[high]);
  if (status !== OK) return noFigures(status);
  /** @type {Record<string, any>} */
  const answer = {};
  for (const { name, between: way, required } of ANSWERED) {
    if (required || name in table.columns) answer[name] = READ[way](cell(name), table.knots, span);
  }
  /** @param {[number, number]} ceiling */
  const worded = ([index, value]) => ({ words: base.landmarks[index].words, speed: value });
  return /** @type {PlainAdvice} */ ({
    ...answer,
    status: OK,
    mark: brakeMark(base, target, mark, answer.brake),
    speeds: answer.speeds.map(worded),
  });
}

/**
 * How fast a train comes here in a rail state; the fastest where the table does not say.
 * @param {Target} target
 * @param {Table} table
 * @param {Omit<Query, "speed">} query
 * @returns {number | null}
 */
export function approachSpeed(target, table, { season, target: index, state, train }) {
  const column = table.columns.approach;
  return column ? column[season][index][state][train] : target.approach_speed[train];
}

/**
 * Whether a card has advice; without a mark to begin before it has none.
 * @param {Pick<PlainAdvice, "status" | "flags" | "mark">} advice
 */
export function isAdvised({ status, flags, mark }) {
  return status === OK && (Boolean(flags & FLAG_NOTHING_ADDED) || mark !== null);
}

/**
 * Brake distance out of a row of the table at a speed; null above the last knot and where
 * there is none.
 * @param {number[]} knots
 * @param {(number | null)[]} brake
 * @param {number} speed
 * @returns {number | null}
 */
export function brakeAt(knots, brake, speed) {
  const span = knotsAround(knots, speed);
  if (span === null || brake[span[0]] === null || brake[span[1]] === null) return null;
  return between(/** @type {number[]} */ (brake), knots, span);
}

/**
 * @param {number} status
 * @returns {PlainAdvice}
 */
export function noFigures(status) {
  const always = ANSWERED.filter(({ required }) => required);
  /** @type {any} */
  const empty = Object.fromEntries(always.map(({ name }) => [name, null]));
  return { ...empty, status, mark: null, flags: 0, speeds: [] };
}

/**
 * Lower knot, upper knot and the speed itself; null above the last knot.
 * @param {number[]} knots
 * @param {number} speed
 * @returns {[number, number, number] | null}
 */
function knotsAround(knots, speed) {
  // A speed that is no number, or endless either way, finds no knot and gives no advice.
  if (!Number.isFinite(speed) || speed > knots[knots.length - 1]) return null;
  if (speed <= knots[0]) return [0, 0, knots[0]];
  const high = knots.findIndex((knot) => knot >= speed);
  return [knots[high] === speed ? high : high - 1, high, speed];
}

/**
 * Interpolate in integers, rounding up.
 * @param {number[]} values
 * @param {number[]} knots
 * @param {[number, number, number]} span
 */
function between(values, knots, [low, high, speed]) {
  if (low === high) return values[low];
  const [v0, v1] = [knots[low], knots[high]];
  const weighted = values[low] * (v1 - speed) + values[high] * (speed - v0);
  const rest = weighted % (v1 - v0);
  return (weighted - rest) / (v1 - v0) + (rest > 0 ? 1 : 0);
}

/**
 * @param {number} one
 * @param {number} other
 */
function leastCover(one, other) {
  if (one === ALL_THE_WAY) return other;
  if (other === ALL_THE_WAY) return one;
  return Math.min(one, other);
}

/**
 * How a column is read at a speed between two knots, by what columns.js says of it.
 * @type {Record<string, (values: any, knots: number[], span: [number, number, number]) => any>}
 */
const READ = {
  plain: (value) => value,
  line: between,
  most: (values, _, [low, high]) => Math.max(values[low], values[high]),
  least: (values, _, [low, high]) => leastCover(values[low], values[high]),
};

/**
 * Snap a brake point outward to the last landmark the driver meets before it.
 * @param {Base} base
 * @param {Target} target
 * @param {number} mark
 * @param {number} brake
 * @returns {BrakeMark | null}
 */
function brakeMark(base, target, mark, brake) {
  const sign = signOf(base, target.direction);
  const point = mark - sign * brake;
  /** @type {BrakeMark | null} */
  let found = null;
  for (const index of target.landmarks) {
    const landmark = base.landmarks[index];
    const ahead = sign * (point - landmark.at_m);
    if (ahead < 0) break;
    found = { index, words: landmark.words, far: ahead > base.route.mark_limit_m };
  }
  return found;
}

/**
 * @param {Base} base
 * @param {string} direction
 * @returns {1 | -1}
 */
export function signOf(base, direction) {
  const found = base.directions.find((one) => one.key === direction);
  if (!found) throw new Error(`base has no direction "${direction}"`);
  return found.sign;
}

/**
 * Season index of a target: 1 while any of its listed places is in season.
 * @param {Base} base
 * @param {Target} target
 * @param {string | null} day local date as "YYYY-MM-DD"; null is not known: every place counts
 */
export function seasonOf(base, target, day) {
  const here = base.listed.filter((place) => target.listed.includes(place.key));
  return here.some((place) => day === null || inSeason(place.season, day)) ? 1 : 0;
}

/**
 * A place without a season is listed all the year.
 * @param {{from: string, to: string} | null} season
 * @param {string} day
 */
export function inSeason(season, day) {
  if (season === null) return true;
  const now = day.slice(5);
  if (season.from <= season.to) return season.from <= now && now <= season.to;
  return now >= season.from || now <= season.to;
}
