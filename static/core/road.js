/**
 * The road ahead as the Brief lists it, in order of travel. Runs of plain stops are drawn
 * together into one row, so that what is special can be read in a minute. In doubt a stop is
 * special: one that is drawn together with others says nothing but its marks.
 *
 * The catalogue of words comes in from outside, so this module knows no language.
 *
 * @import {Base, Row, TripView} from "./types.js"
 * @typedef {{rows: Row[], marked: number, steps: number[], worse: boolean, noSpeed: number, noAdvice: number}} Run
 *   marked: how many have a brake mark, none or most of them; steps: of those marks, the lightest
 *   first; worse: a worse rail is known; on it no speed is enough at noSpeed, and nothing is known
 *   at noAdvice of them
 * @typedef {{kind: string, text: string, more: boolean}} RowLine more: stands with the opened row only
 * @typedef {{when: string, name: string, notes: string[], lines: RowLine[]}} RowWords
 * @typedef {typeof import("../words/en.js").words} Words
 */

import { adviceLines, barWords, isLowered, listedHere, textOf, warnedWords } from "./card.js";
import { placeAlong } from "./format.js";
import { ALL_THE_WAY, FLAG_NOTHING_ADDED, FLAG_NO_STATE_IN_HAND, NO_STOP, OK, isAdvised } from "./table.js";
import { firstMark } from "./trip.js";

const SHORTEST_RUN = 2;
/** Patches shorter than this are told in words where a pack says nothing of it. [m] */
const LEAST_FIGURE = 150;

/**
 * @param {TripView} view
 * @returns {(Row | Run)[]} every row once, in order
 */
export function roadParts(view) {
  const special = specialRows(view);
  /** @type {Row[][]} */
  const groups = [];
  for (const row of view.rows) {
    const last = groups.at(-1);
    if (last && !special.has(row) && !special.has(last[0])) last.push(row);
    else groups.push([row]);
  }
  return groups.flatMap((rows) => /** @type {(Row | Run)[]} */ (isRun(rows) ? [runOf(rows)] : rows));
}

/** @param {Row[]} rows */
function isRun(rows) {
  return rows.length >= SHORTEST_RUN && rows.some((row) => row.kind === "call");
}

/**
 * Rows that stand open. Where most stops are approached as usual, one that has a brake mark is
 * an exception to be told; where most have one, a usual one is only named.
 * @param {TripView} view
 * @returns {Set<Row>}
 */
export function specialRows(view) {
  const own = view.rows.filter((row) => isSpecial(view, row));
  const others = view.rows.filter((row) => !own.includes(row));
  const stops = others.filter((row) => row.kind === "call");
  const asUsual = 2 * stops.filter(isMarked).length <= stops.length;
  return new Set(asUsual ? [...own, ...others.filter(isMarked)] : own);
}

/**
 * @param {TripView} view
 * @param {Row} row
 */
function isSpecial(view, row) {
  const { target } = row;
  const place = target.kind === "buffers" || Boolean(target.note);
  const rail = row.warned !== null || row.state !== view.state || listedHere(view.base, row, view.train).length > 0;
  const train = openFront(view, row) !== null || callNote(view, row) !== "";
  const today = (row.lowered ?? []).length > 0 || (row.kind === "call" && isChanged(view, row));
  return place || rail || train || today || !hasUsualWords(view.base, row);
}

/**
 * An extra call, or the first one after a call that is passed: not the booked stopping pattern.
 * @param {TripView} view
 * @param {Row} row
 */
function isChanged({ trip, calls }, { target }) {
  const at = trip.calls.findIndex((one) => one.target === target.key);
  const before = trip.calls[at - 1]?.target;
  return at < 0 || (before !== undefined && !calls.some((one) => one.target.key === before));
}

/**
 * There is advice, with a mark where it needs one, here and where the rail is worse.
 * @param {Base} base
 * @param {Row} row
 */
function hasUsualWords(base, row) {
  const { advice, bar, state } = row;
  if (bar || advice.status !== OK) return false;
  if (isMarked(row) && (!advice.mark || advice.mark.far)) return false;
  const { worse } = advice;
  if (!worse) return true;
  if (worse.status === OK && worse.mark) return !worse.mark.far;
  // On a rail nobody may set off on it is so at most stops: the run says at how many.
  return !base.states[state + 1].pickable;
}

/**
 * The stops whose advice may not do on a rail one state worse than chosen.
 * @param {TripView} view
 * @returns {{names: string[], all: boolean, most: boolean, others: string[]}} all: every stop with
 *   advice is one; most: more than half of them; others: stops that do have one
 */
export function withoutStateInHand({ calls }) {
  const advised = calls.filter(({ advice, bar }) => !bar && isAdvised(advice));
  const bare = advised.filter(({ advice }) => advice.flags & FLAG_NO_STATE_IN_HAND);
  const others = advised.filter((row) => !bare.includes(row));
  return {
    names: bare.map(nameOf),
    all: bare.length > 1 && others.length === 0,
    most: bare.length > 1 && bare.length > others.length,
    others: others.map(nameOf),
  };
}

/**
 * Whether a patch that may be met is so short that it is told in words.
 * @param {Base} base
 * @param {Row} row
 */
export function isRoomSmall({ settings }, { advice }) {
  const { cover } = advice;
  return cover !== ALL_THE_WAY && (cover ?? 0) < (settings.cover_figure_m ?? LEAST_FIGURE);
}

/**
 * Whether most stops with advice have hardly any room for a patch: then it is said once. Not of
 * the best rail: said every dry day, nobody would read it on a damp one.
 * @param {TripView} view
 */
export function isRoomSmallHere({ base, calls }) {
  const advised = calls.filter(({ advice, bar }) => !bar && isAdvised(advice));
  const small = advised.filter((row) => row.state !== 0 && isRoomSmall(base, row));
  return small.length > 1 && 2 * small.length > advised.length;
}

/** @param {Row} row */
function isMarked({ advice }) {
  return !(advice.flags & FLAG_NOTHING_ADDED);
}

/**
 * @param {Row[]} rows
 * @returns {Run}
 */
function runOf(rows) {
  const marked = rows.filter(isMarked);
  const steps = marked.map(({ advice }) => advice.step).filter((step) => step !== null);
  const worse = rows.map(({ advice }) => advice.worse).filter((one) => one !== null);
  const noSpeed = worse.filter(({ status }) => status === NO_STOP).length;
  return {
    rows,
    marked: marked.length,
    steps: [...new Set(steps)].toSorted((a, b) => a - b),
    worse: worse.length > 0,
    noSpeed,
    noAdvice: worse.filter(({ status, mark }) => status !== NO_STOP && !mark).length,
  };
}

/**
 * How many cars open their doors, from the front; null: the platform is long enough.
 * @param {TripView} view
 * @param {Row} row
 */
function openFront({ base, train }, { target }) {
  return base.doors?.find((one) => one.target === target.key && one.cars === train?.cars)?.open_front ?? null;
}

/**
 * A note that begins with a number of cars is for a train of as many, and needless where the
 * pack itself says which doors stay shut.
 * @param {TripView} view
 * @param {Row} row
 */
function callNote(view, row) {
  const note = row.call?.note ?? "";
  const cars = /^(\d+) cars?:/.exec(note)?.[1];
  const other = cars !== undefined && (Number(cars) !== view.train?.cars || openFront(view, row) !== null);
  return other ? "" : note;
}

/**
 * @param {TripView} view
 * @param {Row} row
 * @param {Words} w
 * @returns {RowWords}
 */
export function rowWords(view, row, w) {
  const { target, call, kind } = row;
  const mark = kind === "reduction" ? firstMark(target) : null;
  const doors = openFront(view, row);
  const notes = [
    target.platform ? w.brief.platform(target.platform) : "",
    mark === null ? "" : placeAlong(mark, view.base.route.distance_unit, w.figures, true),
    target.kind === "buffers" ? w.brief.buffers : "",
    target.note ?? "",
    callNote(view, row),
    doors === null ? "" : w.prepare.doors(doors),
  ];
  return {
    when: call?.arrive ?? call?.depart ?? "",
    name: nameOf(row),
    notes: notes.filter((note) => note !== ""),
    lines: [...roadAdvice(view, row, w), ...reasons(view, row, w)],
  };
}

/** @param {Row} row */
function nameOf({ kind, target }) {
  return kind === "reduction" ? (target.words ?? target.name) : target.name;
}

/**
 * A minute for all stops: speeds stand with the row that is opened.
 * At buffers speeds are the advice, and one that is lowered is told.
 * @param {TripView} view
 * @param {Row} row
 * @param {Words} w
 * @returns {RowLine[]}
 */
function roadAdvice(view, row, w) {
  const lowered = isLowered(row);
  const speedsToo = lowered || row.target.kind === "buffers";
  return [
    ...adviceLines(view.base, row, view.train, w.card).map((one) => ({
      kind: one.kind,
      text: textOf(one),
      more: one.kind === "speeds" && !speedsToo,
    })),
    // Why the whole trip has none is said once, above the stops.
    ...(row.bar && !view.bar ? [shown("", barWords(row.bar, w.card))] : []),
    ...(lowered ? [shown("speeds", w.card.lowered)] : []),
  ];
}

/**
 * @param {TripView} view
 * @param {Row} row
 * @param {Words} w
 */
function reasons({ base, train }, row, w) {
  const { warned } = row;
  const because = warned?.warning.reason ? `: ${warned.warning.reason}` : "";
  return [
    ...(warned ? [shown("warned", warnedWords(warned, w.card) + because)] : []),
    // What grows there is read once, with the row that is opened; that it is listed, each day.
    ...listedHere(base, row, train).flatMap((place) => {
      const state = base.states.find((one) => one.key === place.state)?.name ?? place.state;
      return [shown("listed", `${state}, ${place.name}`), { kind: "reason", text: place.reason, more: true }];
    }),
  ];
}

/**
 * @param {string} kind
 * @param {string} text
 * @returns {RowLine}
 */
function shown(kind, text) {
  return { kind, text, more: false };
}

/**
 * Every stop is counted; a board where nothing is added needs no word.
 * @param {TripView} view
 * @param {Run} run
 * @param {Words} w
 * @returns {RowWords}
 */
export function runWords(view, run, w) {
  const stops = run.rows.filter((row) => row.kind === "call");
  const boards = run.rows.filter((row) => row.kind !== "call" && isMarked(row));
  const first = rowWords(view, stops[0], w);
  // Beside boards that need no word its own advice is as short as ours.
  if (stops.length === 1 && boards.length === 0) return first;
  return {
    when: first.when,
    name: stops.length > 1 ? w.brief.runNames(first.name, nameOf(stops[stops.length - 1])) : first.name,
    notes: [w.brief.runStops(stops.length), ...(boards.length > 0 ? [w.brief.runBoards(boards.length)] : [])],
    lines: [...runAdvice(view, run, w), ...runWorse(run, w)],
  };
}

/**
 * @param {TripView} view
 * @param {Run} run
 * @param {Words} w
 */
function runAdvice({ train }, { rows, marked, steps, worse }, w) {
  if (marked === 0) return [shown("begin", w.card.nothingAdded), ...(worse ? [shown("worse", w.brief.runIfWorse)] : [])];
  const usual = rows.filter((row) => row.kind === "call" && !isMarked(row)).map(nameOf);
  const named = train ? steps.map((step) => w.card.step(train.steps[step])) : [];
  return [
    shown("begin", w.brief.runMarks(named.join(", "), worse)),
    ...(usual.length > 0 ? [shown("", w.brief.runUsual(usual.join(", ")))] : []),
  ];
}

/**
 * @param {Run} run
 * @param {Words} w
 */
function runWorse({ rows, noSpeed, noAdvice }, w) {
  const of = (/** @type {number} */ n) => (n < rows.length ? n : null);
  return [
    ...(noSpeed > 0 ? [shown("worse", w.brief.runWorse(of(noSpeed), w.card.worseNoSpeed))] : []),
    ...(noAdvice > 0 ? [shown("worse", w.brief.runWorse(of(noAdvice), w.card.worseUnknown))] : []),
  ];
}
