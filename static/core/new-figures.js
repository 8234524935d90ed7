/**
 * What a new pack's figures do against those of the pack before it, stop by stop, so that the
 * Brief can say which stops of a trip begin elsewhere. Worked out once, when both are here.
 *
 * @import {Base, Pack, Row, TripView} from "./types.js"
 * @typedef {"earlier" | "later" | "other" | "none" | "advice"} Change
 * @typedef {{from: string, to: string, cells: Record<string, Record<string, string>>}} NewFigures from, to: packs;
 *   cells: by stop and train one letter for each season and rail state, see LETTERS
 */

import { isAdvised, lookUp, signOf } from "./table.js";

/** @type {Record<string, Change | null>} */
const LETTERS = { ".": null, e: "earlier", l: "later", o: "other", n: "none", a: "advice" };
/** In this order they are told: what a driver must not miss first. */
export const TOLD = /** @type {Change[]} */ (["none", "earlier", "later", "advice", "other"]);

/**
 * @param {Pick<Pack, "sha" | "base" | "table">} former
 * @param {Pick<Pack, "sha" | "base" | "table">} pack
 * @returns {NewFigures} stops and trains that only one of them has are left out: a trip with
 *   them is a new trip
 */
export function newFigures(former, pack) {
  /** @type {NewFigures["cells"]} */
  const cells = {};
  for (const [target, { key }] of pack.base.targets.entries()) {
    const was = former.base.targets.findIndex((one) => one.key === key);
    if (was < 0) continue;
    /** @type {Record<string, string>} */
    const trains = {};
    for (const [train, { key: name }] of pack.base.trains.entries()) {
      const formerTrain = former.base.trains.findIndex((one) => one.key === name);
      if (formerTrain < 0) continue;
      const letters = lettersOf(former, pack, [was, formerTrain], [target, train]);
      if (/[^.]/.test(letters)) trains[name] = letters;
    }
    if (Object.keys(trains).length > 0) cells[key] = trains;
  }
  return { from: former.sha, to: pack.sha, cells };
}

/**
 * @param {Pick<Pack, "base" | "table">} former
 * @param {Pick<Pack, "base" | "table">} pack
 * @param {[number, number]} was stop and train in the former pack
 * @param {[number, number]} now
 */
function lettersOf(former, pack, was, now) {
  let letters = "";
  for (const season of [0, 1]) {
    for (const state of pack.base.states.keys()) {
      letters += letterOf(cardOf(former, was, state, season), cardOf(pack, now, state, season));
    }
  }
  return letters;
}

/**
 * @param {Pick<Pack, "base" | "table">} pack
 * @param {[number, number]} at
 * @param {number} state
 * @param {number} season
 */
function cardOf({ base, table }, [target, train], state, season) {
  if (state >= base.states.length) return null;
  const found = lookUp(base, table, { target, train, state, season, speed: null });
  if (!isAdvised(found)) return null;
  const sign = signOf(base, base.targets[target].direction);
  const mark = base.targets[target].mark_m[train] ?? 0;
  const at = found.mark === null ? null : sign * base.landmarks[found.mark.index].at_m;
  return { at, point: sign * mark - (found.brake ?? 0), rest: JSON.stringify([found.step, found.speeds]) };
}

/**
 * @param {ReturnType<typeof cardOf>} was
 * @param {ReturnType<typeof cardOf>} now
 */
function letterOf(was, now) {
  if (was === null || now === null) return was === now ? "." : now === null ? "n" : "a";
  // What the driver reads is the landmark; without one, the point itself.
  const moved = was.at === null || now.at === null ? now.point - was.point : now.at - was.at;
  if (moved !== 0) return moved < 0 ? "e" : "l";
  return was.rest === now.rest ? "." : "o";
}

/**
 * Which stops of a trip begin elsewhere by the new pack, by what changed.
 * @param {NewFigures | null | undefined} kept
 * @param {string | undefined} seen the pack of the Brief before this one
 * @param {TripView} view
 * @returns {{change: Change, rows: Row[]}[] | null} null: not known between these two packs
 */
export function changedStops(kept, seen, { pack, base, train, calls }) {
  if (!kept || kept.from !== seen || kept.to !== pack.sha || train === null) return null;
  return TOLD.map((change) => ({ change, rows: calls.filter((row) => changeAt(kept, base, train.key, row) === change) }))
    .filter(({ rows }) => rows.length > 0);
}

/**
 * @param {NewFigures} kept
 * @param {Base} base
 * @param {string} train
 * @param {Row} row
 */
function changeAt(kept, base, train, row) {
  const letters = kept.cells[row.target.key]?.[train] ?? "";
  return LETTERS[letters[row.season * base.states.length + row.state] ?? "."] ?? null;
}
