/**
 * What the picture of an approach draws. Gives the same as webapp/lines/picture.py.
 *
 * A curve begins where the card says that braking begins, at the speed at which a train comes
 * there in that rail state, and is nowhere above the line's speed: a picture of a faster train,
 * or of one that brakes later, would contradict the card beside it.
 *
 * @import {Base, Pictures, PlainAdvice, Table, Target} from "./types.js"
 * @typedef {{target: number, train: number, state: number, season: number}} Cell
 * @typedef {{begins: number, points: [number, number][]}} Curve metres before the stop mark and
 *   posted speeds, from the stop mark outward
 * @typedef {{speed: number, advised: Curve, usual: Curve | null, ceiling: Curve | null}} Drawn
 */

import { FLAG_NOTHING_ADDED, approachSpeed, brakeAt, isAdvised, signOf } from "./table.js";

/**
 * @param {Base} base
 * @param {Table} table
 * @param {Pictures} pictures
 * @param {Cell} cell
 * @param {PlainAdvice} advice what the card says there
 * @returns {Drawn | null} null without advice, and where the pictures hold no curve
 */
export function drawnApproach(base, table, pictures, cell, advice) {
  const { season, target: index, state, train } = cell;
  const target = base.targets[index];
  const tenths = pictures.advised[season]?.[index]?.[state] ?? [];
  const ceiling = pictures.ceiling[season]?.[index]?.[state] ?? [];
  const mark = target.mark_m[train];
  if (!isAdvised(advice) || tenths.length === 0 || mark === null) return null;
  const speed = Math.ceil(approachSpeed(target, table, cell) ?? 0);
  const begins = beginsAt(base, target, mark, advice);
  const line = { pieces: piecesOf(base, target, mark), speed, spacing: pictures.spacing_m };
  const usual = brakeAt(table.knots, table.columns.usual[season][index][state][train], speed);
  return {
    speed,
    advised: curveOf(line, tenths, begins),
    usual: usual !== null && pictures.usual[index]?.length ? curveOf(line, pictures.usual[index], usual) : null,
    ceiling: ceiling.length > 0 ? curveOf(line, ceiling, begins) : null,
  };
}

/**
 * How far before the stop mark the card lets braking begin.
 * @param {Base} base
 * @param {Target} target
 * @param {number} mark
 * @param {PlainAdvice} advice
 */
function beginsAt(base, target, mark, { mark: before, flags, brake }) {
  if (before === null || flags & FLAG_NOTHING_ADDED) return brake ?? 0;
  return signOf(base, target.direction) * (mark - base.landmarks[before.index].at_m);
}

/**
 * The line's speeds as [far, near, speed] before the mark, the furthest first.
 * @param {Base} base
 * @param {Target} target
 * @param {number} mark
 * @returns {[number, number, number][]}
 */
function piecesOf(base, target, mark) {
  const sign = signOf(base, target.direction);
  return (base.limits?.[target.direction] ?? []).map(([from, to, speed]) => {
    const ends = [sign * (mark - from), sign * (mark - to)];
    return /** @type {[number, number, number]} */ ([Math.max(...ends), Math.min(...ends), speed]);
  }).toSorted((a, b) => b[0] - a[0]);
}

/**
 * A curve under what the train did not exceed further out.
 * @param {{pieces: [number, number, number][], speed: number, spacing: number}} line
 * @param {number[]} tenths
 * @param {number} begins
 * @returns {Curve}
 */
function curveOf({ pieces, speed, spacing }, tenths, begins) {
  const here = pieces.filter(([far, near]) => far > 0 && near < begins);
  /** @type {[number, number][]} */
  const points = [];
  let most = speed;
  for (const [far, near, limit] of here.length > 0 ? here : [[begins, 0, Infinity]]) {
    most = Math.min(most, limit);
    for (const at of placesOf(Math.min(far, begins), Math.max(near, 0), spacing)) {
      const value = at === begins ? most : Math.min(most, speedAt(tenths, spacing, at));
      const last = points[points.length - 1];
      if (last?.[0] !== at || last[1] !== value) points.push([at, value]);
    }
  }
  return { begins, points: points.toReversed() };
}

/**
 * @param {number} far
 * @param {number} near
 * @param {number} spacing
 */
function placesOf(far, near, spacing) {
  const [first, last] = [Math.ceil(far / spacing) - 1, Math.floor(near / spacing) + 1];
  const between = Array.from({ length: Math.max(0, first - last + 1) }, (_, i) => (first - i) * spacing);
  return [far, ...between, near];
}

/**
 * @param {number[]} tenths
 * @param {number} spacing
 * @param {number} at
 */
function speedAt(tenths, spacing, at) {
  const node = Math.floor(at / spacing);
  if (node >= tenths.length || (node === tenths.length - 1 && at > node * spacing)) return Infinity;
  if (at === node * spacing) return tenths[node] / 10;
  const [low, high] = [tenths[node], tenths[node + 1]];
  return (low + ((high - low) * (at - node * spacing)) / spacing) / 10;
}
