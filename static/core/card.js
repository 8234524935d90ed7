/**
 * The words of one approach: the Next stop card, and the same lines in the Brief.
 * The catalogue of words comes in from outside, so this module knows no language.
 *
 * @import {Advice, Bar, Base, Listed, PlainAdvice, Row, Train, TripWarning} from "./types.js"
 * @typedef {"name" | "begin" | "worse" | "speeds" | "why" | "only"} LineKind
 * @typedef {"plain" | "none" | "never" | "note" | "listed" | "warned"} Shape
 * @typedef {{kind: LineKind, lead: string, main: string, tail: string, shape?: Shape,
 *   speeds?: {speed: number, words: string}[], said?: string, short?: string}} CardLine
 *   main is the figure that is set largest; lead, a label, stands before it and tail after it; shape
 *   tells states apart for an eye that reads no word and sees no colour; speeds stand in a column of
 *   their own under the lead; said: the line where no column can stand; short: with fewer words
 * @typedef {typeof import("../words/en.js").words.card} CardWords
 */

import { speedUnit, speedWords } from "./format.js";
import { FLAG_NOTHING_ADDED, NO_STOP, OK, signOf } from "./table.js";
import { earlierMark } from "./trip.js";

/** Words that change from card to card; labels that stand in their place on every card are not counted. */
export const MOST_WORDS = 25;

/**
 * @param {Base} base
 * @param {Row} row
 * @param {Train | null} train
 * @param {CardWords} w
 * @returns {CardLine[]} at most 25 words, unless the names alone are longer
 */
export function cardLines(base, row, train, w) {
  const why = row.bar ? [line("why", "", barWords(row.bar, w))] : whyLines(base, row, train, w);
  return fitted([nameLine(row, train, w), ...adviceLines(base, row, train, w), ...why], row.target.kind === "buffers");
}

/**
 * Why a stop has no advice, in words.
 * @param {Bar} bar
 * @param {CardWords} w
 */
export function barWords({ why, reason }, w) {
  return why === "off" ? w.off(w.offWords[reason ?? "other"] ?? w.offWords.other) : w.barWords[why];
}

/**
 * The lines under the name: where to begin, where if it is worse, speeds at real things.
 * @param {Base} base
 * @param {Row} row
 * @param {Train | null} train
 * @param {CardWords} w
 * @returns {CardLine[]}
 */
export function adviceLines(base, row, train, w) {
  const advice = row.advice;
  if (advice.status === NO_STOP) return [shaped("never", line("only", "", w.noSpeedEnough))];
  if (advice.status !== OK) return [shaped("none", line("only", "", w.w6))];
  const begin = beginLine(row, train, w);
  if (!begin) return [shaped("none", line("only", "", w.w6))];
  return [begin, worseLine(advice, train, w), ...speedsLine(base, row, w)];
}

/**
 * @param {LineKind} kind
 * @param {string} lead
 * @param {string} main
 * @param {string} [tail]
 * @returns {CardLine}
 */
function line(kind, lead, main, tail = "") {
  return { kind, lead, main, tail };
}

/**
 * @param {Shape} shape
 * @param {CardLine} one
 * @returns {CardLine}
 */
function shaped(shape, one) {
  return { ...one, shape };
}

/**
 * @param {Row} row
 * @param {Train | null} train
 * @param {CardWords} w
 */
function nameLine(row, train, w) {
  const buffers = row.target.kind === "buffers";
  const tail = buffers ? w.buffers : train ? w.cars(train.cars) : "";
  return line("name", "", row.target.name.toUpperCase(), tail);
}

/**
 * Where nothing is added to the usual approach buffers still have their ladder: "Nothing added."
 * above it would be untrue.
 * @param {Pick<Row, "advice" | "target">} row
 * @param {Train | null} train
 * @param {CardWords} w
 * @returns {CardLine | null} null: no landmark to begin before
 */
function beginLine({ advice, target }, train, w) {
  const nothing = target.kind === "buffers" ? w.noMarkAdded : w.nothingAdded;
  if (advice.flags & FLAG_NOTHING_ADDED) return shaped("plain", line("begin", "", nothing));
  if (!advice.mark) return null;
  if (advice.mark.far) return line("begin", w.noMark, advice.mark.words);
  const step = stepWords(advice, train, w);
  return line("begin", w.begin, step ? `${advice.mark.words},` : advice.mark.words, step);
}

/**
 * @param {PlainAdvice} advice
 * @param {Train | null} train
 * @param {CardWords} w
 */
function stepWords(advice, train, w) {
  const name = train && advice.step !== null ? train.steps[advice.step] : undefined;
  return name === undefined ? "" : w.step(name);
}

/**
 * Where to begin if it is worse, on every card: left out it would read as "no different". The
 * step stands there when it is another one: at the mark of the worse state the step of the
 * planned one would slide, or fall far short.
 * @param {Advice} advice
 * @param {Train | null} train
 * @param {CardWords} w
 * @returns {CardLine}
 */
function worseLine(advice, train, w) {
  const worse = advice.worse;
  if (worse?.status === NO_STOP) return line("worse", w.worse, w.worseNoSpeed);
  const nothing = worse?.status === OK && Boolean(worse.flags & FLAG_NOTHING_ADDED);
  if (worse?.status !== OK || (!worse.mark && !nothing)) return line("worse", w.worse, w.worseUnknown);
  if (!worse.mark) return line("worse", w.worse, w.worseNothing);
  const plain = Boolean(advice.flags & FLAG_NOTHING_ADDED);
  const step = plain || worse.step !== advice.step ? stepWords(worse, train, w) : "";
  const comma = step ? "," : "";
  // The same post twice looks like a misprint.
  if (!plain && worse.mark.index === advice.mark?.index) return line("worse", w.worse, w.worseSame + comma, step);
  return line("worse", worse.mark.far ? w.worseFar : w.worseBefore, worse.mark.words + comma, step);
}

/**
 * Speeds at real things. Buffers are approached by a ladder of speeds on any rail.
 * @param {Base} base
 * @param {Row} row
 * @param {CardWords} w
 * @returns {CardLine[]} one, or none
 */
function speedsLine(base, { advice, target }, w) {
  if (!showsSpeeds({ advice, target })) return [];
  const unit = base.route.speed_unit;
  const said = w.notAboveAll(advice.speeds.map(({ words, speed }) => w.speedBy(speedWords(speed, unit), words)).join(", "));
  return [{ ...line("speeds", w.notAbove(speedUnit(unit)), ""), speeds: advice.speeds, said }];
}

/** @param {Pick<Row, "advice" | "target">} row */
function showsSpeeds({ advice, target }) {
  const plain = advice.flags & FLAG_NOTHING_ADDED && target.kind !== "buffers";
  return advice.status === OK && !plain && advice.speeds.length > 0;
}

/**
 * Why it is so: what is to be known at buffers, then the worse of warned and listed.
 * @param {Base} base
 * @param {Row} row
 * @param {Train | null} train
 * @param {CardWords} w
 * @returns {CardLine[]}
 */
function whyLines(base, row, train, w) {
  const buffers = row.target.kind === "buffers";
  const listed = listedRank(base, row, train);
  const lines = buffers && row.target.note ? [shaped("note", line("why", "", row.target.note))] : [];
  if (row.warned && row.warned.rank >= listed) lines.push({ ...shaped("warned", line("why", "", warnedWords(row.warned, w))), short: w.warnedWorst(row.warned.when) });
  else if (listed >= 0) lines.push(shaped("listed", line("why", "", w.listed(base.states[listed].name))));
  // The box has room for two.
  const lower = isLowered(row) && lines.length < 2;
  return lower ? [...lines, { ...line("why", "", w.lowered), short: w.loweredShort }] : lines;
}

/**
 * Whether a speed that is shown is lower for a restriction.
 * @param {Row} row
 */
export function isLowered(row) {
  return (row.lowered ?? []).length > 0 && showsSpeeds(row);
}

/**
 * @param {TripWarning} warned
 * @param {CardWords} w
 */
export function warnedWords({ certain, name, when }, w) {
  return certain && name !== null ? w.warned(name, when) : w.warnedWorst(when);
}

/**
 * Place in the chain of the worst of the listed places that count now; -1 for none.
 * @param {Base} base
 * @param {Row} row
 * @param {Train | null} train
 */
export function listedRank(base, row, train) {
  return Math.max(-1, ...listedHere(base, row, train).map((place) => rank(base, place)));
}

/**
 * Listed places that are a reason for this stop's advice: in season, no milder than the
 * planned rail, and still under the train once it has begun to brake. The pack lists all
 * within reach; one that lies behind the brake mark, or behind the stop before, would only
 * teach the driver that "listed" means nothing.
 * @param {Base} base
 * @param {Row} row
 * @param {Train | null} train
 */
export function listedHere(base, row, train) {
  if (row.season === 0) return [];
  return base.listed.filter((place) => counts(base, row, train, place));
}

/**
 * @param {Base} base
 * @param {Row} row
 * @param {Train | null} train
 * @param {Listed} place
 */
function counts(base, row, train, place) {
  if (!row.target.listed.includes(place.key) || rank(base, place) < row.state) return false;
  const earlier = earlierMark(base, row);
  if (earlier === null) return true;
  const sign = signOf(base, row.target.direction);
  const end = Math.max(sign * place.from_m, sign * place.to_m);
  return end >= sign * earlier - (train?.length_m ?? 0);
}

/**
 * @param {Base} base
 * @param {Listed} place
 */
function rank(base, place) {
  return base.states.findIndex((state) => state.key === place.state);
}

/** @param {CardLine} one */
export function textOf(one) {
  return one.said ?? [one.lead, one.main, one.tail].filter((part) => part !== "").join(" ");
}

/**
 * Words that change from card to card: a lead is a label in a fixed place.
 * @param {CardLine[]} lines
 */
export function countWords(lines) {
  const texts = lines.flatMap(({ main, tail, speeds = [] }) => [main, tail, ...speeds.map(({ speed, words }) => `${speed} ${words}`)]);
  return texts.flatMap((text) => text.split(/\s+/)).filter((word) => word !== "").length;
}

/**
 * Too many words for two seconds: what weighs least is shortened first. First that a speed is
 * lowered for a notice, in one word; then the state that is warned of, which stands with the
 * planned rail; then the speeds at a platform, the one furthest out first, down to the last. Where to begin, the step, where if it is worse, a ladder at buffers and the
 * reasons are never left out, and then the card has the words that it needs.
 * @param {CardLine[]} lines
 * @param {boolean} ladder
 * @returns {CardLine[]}
 */
function fitted(lines, ladder) {
  if (countWords(lines) <= MOST_WORDS) return lines;
  const long = lines.findLastIndex((one) => one.short !== undefined && one.main !== one.short);
  if (long >= 0) return fitted(lines.with(long, { ...lines[long], main: lines[long].short ?? "" }), ladder);
  const at = lines.findIndex(({ speeds }) => speeds !== undefined && speeds.length > 1);
  if (at < 0 || ladder) return lines;
  return fitted(lines.with(at, { ...lines[at], speeds: lines[at].speeds?.slice(1) }), ladder);
}
