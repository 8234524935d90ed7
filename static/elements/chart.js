/**
 * The picture of one approach: distance to the mark against speed, gradient under it.
 * Curves differ by stroke and name, never by colour alone, so it prints and survives
 * forced colours.
 *
 * @import {Base, Row} from "../core/types.js"
 * @import {Curve, Drawn} from "../core/picture.js"
 * @typedef {typeof import("../words/en.js").words.chart} ChartWords
 * @typedef {{base: Base, row: Row, trainIndex: number, drawn: Drawn, worse: Curve | null, words: ChartWords}} Picture
 *   worse: the curve of the next worse rail
 * @typedef {{x: (before: number) => number, y: (speed: number) => number, far: number, top: number,
 *   sign: 1 | -1, mark: number}} Scale
 */

import { METRES_PER_YARD, shortWords, speedUnit } from "../core/format.js";
import { FLAG_NOTHING_ADDED, signOf } from "../core/table.js";
import { ground } from "./chart-ground.js";
import { BOX, el, text } from "./svg.js";

/** Width of a letter, and the steps of a scale; the picture's own units, yards or metres. */
const LETTER = 14.8;
const STEPS = [100, 200, 250, 500, 1000, 2000];

let drawn = 0;

/**
 * @param {Picture} picture
 * @returns {SVGElement}
 */
export function chart(picture) {
  const { base, row, drawn: { usual, ceiling, advised }, worse, words } = picture;
  const scale = scaleOf(picture);
  const hatch = `slick-${(drawn += 1)}`;
  return el("svg", { viewBox: `0 0 ${BOX.width} ${BOX.scale + 38}`, role: "img", class: "chart" }, [
    el("title", {}, [summary(picture)]),
    el("defs", {}, [hatching(hatch)]),
    ...listed(base, row, scale, hatch, words),
    ...axes(base, scale),
    usual ? curve("usual", usual, scale) : null,
    ceiling ? curve("ceiling", ceiling, scale) : null,
    worse ? curve("worse", worse, scale) : null,
    curve("advised", advised, scale),
    ...landmarks(base, row, scale, words),
    ...names(picture, scale),
    ...ground(base, scale, words),
    ...distances(base, scale, words),
  ]);
}

/**
 * Wide enough for both brake points and a little of the road before them.
 * @param {Picture} picture
 * @returns {Scale}
 */
function scaleOf({ base, row, trainIndex, drawn }) {
  const sign = signOf(base, row.target.direction);
  const mark = row.target.mark_m[trainIndex] ?? 0;
  const { worse } = row.advice;
  const there = worse?.mark ? sign * (mark - base.landmarks[worse.mark.index].at_m) : (worse?.brake ?? 0);
  const far = Math.max(400, 1.12 * Math.max(drawn.advised.begins, drawn.usual?.begins ?? 0, there));
  const top = (Math.floor(drawn.speed / base.route.dial / 2) + 1) * base.route.dial * 2;
  const { left, right } = BOX;
  return {
    x: (before) => right - (before / far) * (right - left),
    y: (speed) => BOX.bottom - (speed / top) * (BOX.bottom - BOX.top),
    far,
    top,
    sign,
    mark,
  };
}

/**
 * @param {string} kind
 * @param {Curve} drawn
 * @param {Scale} scale
 */
function curve(kind, drawn, scale) {
  const points = drawn.points.map(([before, speed]) => `${scale.x(before).toFixed(1)},${scale.y(speed).toFixed(1)}`);
  return el("polyline", { class: `curve ${kind}`, points: points.join(" "), fill: "none" });
}

/**
 * @param {Base} base
 * @param {Scale} scale
 */
function axes(base, scale) {
  const step = base.route.dial * (scale.top > base.route.dial * 10 ? 4 : 2);
  const speeds = Array.from({ length: Math.floor(scale.top / step) + 1 }, (_, i) => i * step);
  return [
    ...speeds.flatMap((speed) => [
      el("line", { class: "grid", x1: BOX.left, x2: BOX.right, y1: scale.y(speed), y2: scale.y(speed) }),
      text(BOX.left - 8, scale.y(speed) + 7, String(speed), "end"),
    ]),
    text(8, BOX.top - 14, speedUnit(base.route.speed_unit)),
    el("line", { class: "axis", x1: BOX.left, x2: BOX.right, y1: BOX.bottom, y2: BOX.bottom }),
  ];
}

/** @param {string} id */
function hatching(id) {
  const box = { id, width: 9, height: 9, patternUnits: "userSpaceOnUse", patternTransform: "rotate(45)" };
  return el("pattern", box, [el("line", { class: "hatch", x1: 0, x2: 0, y1: 0, y2: 9 })]);
}

/**
 * @param {Base} base
 * @param {Row} row
 * @param {Scale} scale
 * @param {string} hatch
 * @param {ChartWords} words
 */
function listed(base, row, scale, hatch, words) {
  const places = base.listed.filter((place) => row.target.listed.includes(place.key));
  return places.flatMap((place) => {
    const ends = [place.from_m, place.to_m].map((at) => scale.sign * (scale.mark - at));
    const [near, far] = [Math.max(0, Math.min(...ends)), Math.min(scale.far, Math.max(...ends))];
    if (near >= scale.far || far <= 0) return [];
    const [x, width] = [scale.x(far), scale.x(near) - scale.x(far)];
    const box = { x, y: BOX.top, width, height: BOX.bottom - BOX.top };
    const middle = Math.min(BOX.right - 60, Math.max(BOX.left + 40, x + width / 2));
    return [
      el("rect", { ...box, fill: `url(#${hatch})`, class: "slick" }),
      text(middle, BOX.bottom - 10, words.slick, "middle"),
    ];
  });
}

/**
 * Only landmarks the advice speaks of are named; the others are ticks.
 * @param {Base} base
 * @param {Row} row
 * @param {Scale} scale
 * @param {ChartWords} words
 */
function landmarks(base, row, scale, words) {
  const own = row.advice.flags & FLAG_NOTHING_ADDED ? undefined : row.advice.mark?.words;
  const named = new Set([own, row.advice.worse?.mark?.words,
    ...row.advice.speeds.map((one) => one.words)]);
  const seen = row.target.landmarks
    .map((index) => base.landmarks[index])
    .map((landmark) => ({ landmark, before: scale.sign * (scale.mark - landmark.at_m) }))
    .filter(({ before }) => before >= 0 && before <= scale.far);
  const marks = seen.map(({ landmark, before }) => ({ name: landmark.words, before }));
  const place = rowsFor(BOX.rows);
  const first = (/** @type {string} */ name) => (name === words.mark ? 0 : name === own ? 1 : name === row.advice.worse?.mark?.words ? 2 : 3);
  return [...marks, { name: words.mark, before: 0 }].toSorted((a, b) => first(a.name) - first(b.name)).flatMap(({ name, before }) => {
    const x = scale.x(before);
    const tick = el("line", { class: "tick", x1: x, x2: x, y1: BOX.bottom, y2: BOX.bottom + 8 });
    const placed = named.has(name) || before === 0 ? place(x, name) : null;
    if (placed === null) return [tick];
    const y = BOX.names + placed.level * BOX.row;
    const stem = el("line", { class: "stem", x1: x, x2: x, y1: BOX.top, y2: y - 14 });
    return [stem, text(placed.middle, y + 4, name, "middle")];
  });
}

/**
 * Rows in which names find room beside one another; what comes first gets it.
 * @param {number} rows
 * @returns {(x: number, name: string) => {level: number, middle: number} | null} null: no room left
 */
function rowsFor(rows) {
  /** @type {[number, number][][]} */
  const taken = Array.from({ length: rows }, () => []);
  return (x, name) => {
    const half = name.length * LETTER / 2;
    const middle = Math.min(BOX.width - half, Math.max(half, x));
    const level = taken.findIndex((all) => all.every(([from, to]) => middle + half < from || middle - half > to));
    if (level < 0) return null;
    taken[level].push([middle - half - LETTER, middle + half + LETTER]);
    return { level, middle };
  };
}

/**
 * Each curve's name above where it begins; a short line leads down to it.
 * @param {Picture} picture
 * @param {Scale} scale
 */
function names({ drawn: { advised, usual, ceiling }, worse, words }, scale) {
  const place = rowsFor(2);
  const begun = [{ curve: advised, name: words.beginHere }, { curve: worse, name: words.worse }, { curve: usual, name: words.usual }];
  const labels = begun.flatMap(({ curve: one, name }) => {
    const start = one?.points.at(-1);
    if (!start) return [];
    const x = scale.x(start[0]);
    const placed = place(x, name);
    if (placed === null) return [];
    const y = 24 + placed.level * BOX.row;
    return [el("line", { class: "tick", x1: x, x2: x, y1: y + 6, y2: scale.y(start[1]) }), text(placed.middle, y, name, "middle")];
  });
  return [...labels, ...(ceiling ? nameOfCeiling(ceiling, words.ceiling, scale) : [])];
}

/**
 * Every curve falls to the mark, so the corner above it is empty.
 * @param {Curve} ceiling
 * @param {string} name
 * @param {Scale} scale
 */
function nameOfCeiling(ceiling, name, scale) {
  const middle = BOX.right - (name.length * LETTER) / 2 - LETTER;
  const y = BOX.top + BOX.row;
  const meets = ceiling.points.find(([before]) => scale.x(before) <= middle);
  if (!meets) return [];
  return [el("line", { class: "tick", x1: middle, x2: middle, y1: y + 6, y2: scale.y(meets[1]) }), text(middle, y, name, "middle")];
}

/**
 * How far it is to the mark, under the ground.
 * @param {Base} base
 * @param {Scale} scale
 * @param {ChartWords} words
 */
function distances(base, scale, words) {
  const unit = base.route.distance_unit === "km" ? 1 : METRES_PER_YARD;
  const step = STEPS.find((one) => (scale.far / unit) / one <= 5) ?? STEPS[STEPS.length - 1];
  const all = Array.from({ length: Math.floor(scale.far / unit / step) + 1 }, (_, i) => i * step);
  const y = BOX.scale;
  return [
    el("line", { class: "axis", x1: BOX.left, x2: BOX.right, y1: y, y2: y }),
    ...all.flatMap((far, i) => {
      const x = scale.x(far * unit);
      const name = i === 1 ? shortWords(far * unit - 0.01, base.route.distance_unit, words.figures) : String(far);
      return [el("line", { class: "tick", x1: x, x2: x, y1: y, y2: y + 8 }), text(Math.min(x, BOX.width - LETTER), y + 32, name, "middle")];
    }),
  ];
}

/** What it shows, in words. @param {Picture} picture */
export function summary({ base, row, drawn: { advised, usual }, words }) {
  const far = (/** @type {number} */ metres) => shortWords(metres, base.route.distance_unit, words.figures);
  const before = usual === null ? "" : words.usualFrom(far(usual.begins));
  return words.summary(row.target.name, before, words.advisedFrom(far(advised.begins)), speedUnit(base.route.speed_unit));
}
