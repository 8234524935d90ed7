/**
 * The trip log: approaches made without a report, as sums. A sum names a stop, an hour, a
 * rail state and a type of train; no trip, no train, no tablet, no driver, no position and
 * no minute ever gets into it.
 *
 * @import {Item, TripView} from "./types.js"
 * @typedef {{route: string, target: string, hour: number, rail_state: string, train_type: string}} Cell
 * @typedef {Record<string, number>} DayCounts sums by the text of their cell
 */

import { dayOf } from "./age.js";
import { MOST_CELLS } from "./agreed.js";

const HOUR_MS = 3600_000;

/**
 * @param {TripView} view
 * @param {number} index
 * @param {number} time by the railway's clock
 * @returns {Cell | null}
 */
export function cellOf(view, index, time) {
  const row = view.calls[index];
  if (!row) return null;
  return {
    route: view.base.route.key,
    target: row.target.key,
    hour: new Date(time).getHours(),
    rail_state: view.base.states[row.state].key,
    train_type: view.trip.train_type,
  };
}

/**
 * @param {DayCounts} counts
 * @param {Cell} cell
 * @returns {DayCounts}
 */
export function added(counts, cell) {
  const text = textOf(cell);
  return { ...counts, [text]: (counts[text] ?? 0) + 1 };
}

/**
 * A report came after all: the approach it is about is none without a report. It is looked
 * for in the hour of the report and the one after, when the train left the stop.
 * @param {DayCounts} counts
 * @param {{route: string, target: string | null, at: number}} report
 * @returns {DayCounts}
 */
export function withoutReported(counts, { route, target, at }) {
  const hours = [at, at + HOUR_MS].map((time) => new Date(time).getHours());
  const text = Object.keys(counts).find((one) => {
    const cell = cellIn(one);
    return cell.route === route && cell.target === target && hours.includes(cell.hour);
  });
  if (text === undefined) return counts;
  const { [text]: n, ...others } = counts;
  return n > 1 ? { ...others, [text]: n - 1 } : others;
}

/**
 * Whether a day is over and may be handed over: any but today, wherever the clock was.
 * @param {string} day
 * @param {number} now by the railway's clock
 */
export function isClosed(day, now) {
  return day !== dayOf(now);
}

/**
 * What travels: the sums of days that are over, by month. The day itself stays here.
 * @param {Record<string, DayCounts>} days
 * @param {() => string} newId
 * @returns {Item[]}
 */
export function itemsOf(days, newId) {
  /** @type {Record<string, DayCounts>} */
  const months = {};
  for (const [day, counts] of Object.entries(days)) {
    const month = (months[day.slice(0, 7)] ??= {});
    for (const [text, n] of Object.entries(counts)) month[text] = (month[text] ?? 0) + n;
  }
  return Object.keys(months).toSorted().flatMap((month) => {
    // In the order of their text: the order in which stops were left is nobody's business.
    const cells = Object.keys(months[month]).toSorted().map((text) => ({ ...cellIn(text), n: months[month][text] }));
    const parts = Math.ceil(cells.length / MOST_CELLS);
    return Array.from({ length: parts }, (_, i) => ({
      kind: "counts",
      id: newId(),
      body: { month, cells: cells.slice(i * MOST_CELLS, (i + 1) * MOST_CELLS) },
    }));
  });
}

/** @param {Cell} cell */
function textOf({ route, target, hour, rail_state, train_type }) {
  return JSON.stringify([route, target, hour, rail_state, train_type]);
}

/**
 * @param {string} text
 * @returns {Cell}
 */
function cellIn(text) {
  const [route, target, hour, rail_state, train_type] = JSON.parse(text);
  return { route, target, hour, rail_state, train_type };
}
