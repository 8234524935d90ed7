/**
 * What the Brief says on its first screen: the stops that have no advice, those that ask for
 * more than the planned rail asks here anyway, the worst first, and what is common to the rest,
 * said once. The catalogue of words comes in from outside, so this module knows no language.
 *
 * @import {Row, TripView} from "./types.js"
 * @typedef {{row: Row, name: string, where: string, step: string, why: string[]}} Special where: where
 *   to begin, or at buffers without a mark their speeds; why: reasons, one at least
 * @typedef {typeof import("../words/en.js").words} Words
 */

import { adviceLines, barWords, isLowered, listedHere, listedRank, textOf, warnedWords } from "./card.js";
import { withoutStateInHand } from "./road.js";
import { FLAG_NOTHING_ADDED, FLAG_NO_STATE_IN_HAND, NO_STOP, isAdvised } from "./table.js";

/** Names in one sentence; above that the list of all stops has them. */
const NAMED = 4;
/** Words for what changed and for single stops: the rest of the screen needs the other half. */
const WORDS = 62;

/**
 * Stops that have no advice, those with one reason in one sentence.
 * @param {TripView} view
 * @param {Words} w
 */
export function withoutAdviceLines(view, w) {
  // Why the whole trip has none stands above all this.
  if (view.bar || view.withdrawn) return [];
  const bare = view.rows.filter((row) => !isAdvised(row.advice));
  const slippery = bare.filter(({ advice }) => advice.status === NO_STOP);
  /** @type {Map<string, Row[]>} */
  const others = new Map();
  for (const row of bare.filter((one) => !slippery.includes(one))) {
    const why = row.bar ? barWords(row.bar, w.card) : "";
    others.set(why, [...(others.get(why) ?? []), row]);
  }
  return [
    ...(slippery.length > 0 ? [w.brief.first.noSpeed(named(slippery, w))] : []),
    ...[...others].map(([why, rows]) => w.brief.first.noAdvice(named(rows, w), why)),
  ];
}

/**
 * @param {Row[]} rows
 * @param {Words} w
 */
function named(rows, w) {
  const names = rows.map(nameOf);
  // One more than fits is named too: "and 1 more" is no shorter than its name.
  if (names.length <= NAMED + 1) return names.join(", ");
  return w.brief.first.andMore(names.slice(0, NAMED).join(", "), names.length - NAMED);
}

/** @param {Row} row */
export function nameOf({ kind, target }) {
  return kind === "reduction" ? (target.words ?? target.name) : target.name;
}

/**
 * The stops with advice that ask for more than the planned rail does here anyway.
 * @param {TripView} view
 * @param {Words} w
 * @returns {Special[]} the worst first
 */
export function specialStops(view, w) {
  const rare = rareHand(view);
  const { base, train } = view;
  return view.rows
    .filter((row) => isAdvised(row.advice))
    .map((row) => ({ row, name: nameOf(row), ...howWords(view, row, w), why: reasons(view, row, rare, w) }))
    .filter(({ why }) => why.length > 0)
    .map((one) => ({ one, weight: [Math.max(one.row.state, listedRank(base, one.row, train)), one.why.length, one.row.advice.seconds ?? 0] }))
    .toSorted((a, b) => b.weight[0] - a.weight[0] || b.weight[1] - a.weight[1] || b.weight[2] - a.weight[2])
    .map(({ one }) => one);
}

/**
 * Stops without a state in hand where that is the exception.
 * @param {TripView} view
 * @returns {Set<Row>}
 */
function rareHand(view) {
  return new Set(withoutStateInHand(view).most ? [] : view.calls.filter(({ advice }) => advice.flags & FLAG_NO_STATE_IN_HAND));
}

/**
 * @param {TripView} view
 * @param {Row} row
 * @param {Words} w
 */
function howWords({ base, train }, row, w) {
  const lines = train ? adviceLines(base, row, train, w.card) : [];
  const [first] = lines;
  if (!first) return { where: "", step: "" };
  if (first.lead === w.card.begin) return { where: w.brief.first.before(first.main.replace(/,$/, "")), step: first.tail };
  // "No mark added" would contradict that they need more: what buffers ask for is their speeds.
  const ladder = row.target.kind === "buffers" ? lines.find(({ kind }) => kind === "speeds") : undefined;
  return { where: textOf(ladder ?? first).replace(/\.$/, ""), step: "" };
}

/**
 * @param {TripView} view
 * @param {Row} row
 * @param {Set<Row>} rare
 * @param {Words} w
 */
function reasons({ base, state, train }, row, rare, w) {
  const { warned, advice, target } = row;
  const listed = listedHere(base, row, train).map((place) => w.card.listed(base.states.find((one) => one.key === place.state)?.name ?? place.state));
  const { worse } = advice;
  const never = worse?.status === NO_STOP && base.states[row.state + 1]?.pickable;
  return [
    ...(warned && warned.rank >= state ? [warnedWords(warned, w.card)] : []),
    ...new Set(listed),
    ...(target.kind === "buffers" ? [w.brief.buffers] : []),
    ...(never ? [w.brief.first.never] : []),
    ...(rare.has(row) ? [w.brief.first.noHand] : []),
    ...(isLowered(row) ? [w.card.loweredShort] : []),
  ].map((text, i) => (i === 0 ? text : text.charAt(0).toLowerCase() + text.slice(1)));
}

/**
 * The step that all of them begin with, said once instead of with each; "" where it differs.
 * @param {Special[]} special
 */
export function oneStep(special) {
  const steps = new Set(special.flatMap(({ step }) => (step ? [step] : [])));
  return steps.size === 1 ? [...steps][0] : "";
}

/**
 * What is common to the stops that are not told singly, in one sentence.
 * @param {TripView} view
 * @param {Special[]} special
 * @param {Words} w
 */
export function commonWords(view, special, w) {
  const told = new Set(special.map(({ row }) => row));
  const advised = view.calls.filter(({ advice }) => isAdvised(advice));
  const rest = advised.filter((row) => !told.has(row));
  if (rest.length === 0 || view.withdrawn) return "";
  const marked = rest.filter(({ advice }) => !(advice.flags & FLAG_NOTHING_ADDED));
  const usual = rest.filter((row) => !marked.includes(row));
  const steps = [...new Set(marked.flatMap(({ advice }) => (advice.step === null ? [] : [advice.step])))].toSorted((a, b) => a - b);
  const names = view.train ? steps.map((step) => w.card.step(view.train?.steps[step] ?? "")) : [];
  const where = rest.length === view.calls.length ? w.brief.first.everywhere : w.brief.first.others(rest.length);
  if (marked.length === 0) return w.brief.first.nothing(where);
  const begin = w.brief.first.earlier(where, names.join(", "));
  return usual.length === 0 ? begin : `${begin} ${w.brief.first.butNothing(named(usual, w))}`;
}

/**
 * How many of some lines stand open: the first always, then as many as there are words for.
 * @param {string[]} texts
 * @param {number} [spent] words that stand there already
 */
export function room(texts, spent = 0) {
  let left = WORDS - spent;
  const full = texts.findIndex((text, i) => (left -= countOf(text)) < 0 && i > 0);
  return full < 0 ? texts.length : full;
}

/** @param {string} text */
export function countOf(text) {
  return text.split(/\s+/).filter((word) => word !== "").length;
}
