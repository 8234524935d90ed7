/**
 * What the Next stop card may show: which call, or none, and how sure that is. It is frozen
 * from 30 s before the earlier brake mark to the stand; an uncertain position freezes
 * earlier, never later. Frozen, it may only ever say less.
 *
 * @import {FollowLine, FollowState} from "./follow.js"
 * @typedef {"sure" | "estimated" | "unknown" | "off"} Word
 * @typedef {{index: number | null, word: Word}} Face index of the call; null: no card (W6)
 */

import { isPerhapsBack } from "./backward.js";
import { minutesOf } from "./clock.js";
import { agreed, later, topOf } from "./estimate.js";
import { BEYOND_M, BLIND_WORD_MS, FIX_AGE_MS, FREEZE_S, JUMP_M, LAG_S, LEAST_BOUND_M, PASSED_M, SHAKEN_MS, STRANGE_MS } from "./follow-numbers.js";
import { cardIndex, ends, reachedLongAgo, stopAhead } from "./platforms.js";

/**
 * @param {FollowState} state
 * @param {FollowLine} line
 * @param {number} now
 */
export function frozenNow(state, line, now) {
  // A train that creeps to its mark is not standing yet.
  if (state.frozen) return state.motion === "moving" || (state.motion === "standing" && !state.still);
  if (state.motion !== "moving" || !state.placed) return false;
  const earlier = line.stops[cardIndex(state)]?.earlier ?? null;
  if (earlier === null) return false;
  // A speed worked out from ten seconds is five seconds older still.
  const lag = LAG_S + (state.recent[state.recent.length - 1]?.speed === null ? FIX_AGE_MS / 2000 : 0);
  // A receiver that contradicts itself may be right, and so may what it said a moment ago.
  return [...state.places, ...(state.strange?.places ?? []), ...state.reach.map((one) => one.place)].some((place) => {
    const seconds = Math.max(0, (now - place.t) / 1000);
    const ahead = line.sign * earlier - later(place, now, line.top).hi;
    return ahead <= (FREEZE_S + LAG_S) * topOf(place.vhi, seconds + lag, line.top);
  });
}

/**
 * @param {FollowState} state with its frozen flag as it is now
 * @param {FollowLine} line
 * @param {number} now
 * @param {boolean} held it was frozen before
 * @returns {Face}
 */
export function faceOf(state, line, now, held) {
  if (state.doubt !== null || isPast(state, line)) return { index: null, word: "off" };
  const open = openFace(state, line, now);
  if (!held) return open;
  if (state.gap) return { index: null, word: doubtWord(state, now) };
  const unseen = !isFresh(state, now) && reachedLongAgo(state, line, now, BLIND_WORD_MS);
  return state.face.word === "sure" && (unseen || mayBeWrong(state, line, now)) ? { ...state.face, word: "estimated" } : state.face;
}

/**
 * @param {Pick<FollowState, "sureAt">} state
 * @param {number} now
 */
export function isFresh(state, now) {
  return state.sureAt !== null && Math.abs(now - state.sureAt) <= FIX_AGE_MS;
}

/**
 * The receiver keeps to a place that cannot be, or did so lately: one of its two places is
 * wrong, and which is not known.
 * @param {Pick<FollowState, "shaken" | "strange" | "fixAt">} state
 * @param {number} now
 */
export function isShaken({ shaken, strange, fixAt }, now) {
  const agree = strange !== null && agreed(strange, fixAt ?? 0);
  return agree || (shaken !== null && now - shaken <= SHAKEN_MS);
}

/**
 * @param {FollowState} state
 * @param {FollowLine} line
 * @param {number} now
 * @returns {Face}
 */
function openFace(state, line, now) {
  const moving = state.motion === "moving";
  const index = cardIndex(state);
  const alone = state.places.length === 1;
  // Without position the driver's own choice stands, marked as not confirmed.
  const unknown = /** @type {Face} */ ({ index: moving ? null : index, word: doubtWord(state, now) });
  if (!state.placed) return elsewhere(state, line) ? { ...unknown, index: null } : unknown;
  if (state.gap || !alone) return unknown;
  if (!isFresh(state, now)) return moving ? { index, word: "estimated" } : unknown;
  return { index, word: mayBeWrong(state, line, now) ? "estimated" : "sure" };
}

/**
 * What is not known: the place, or only which stop is next.
 * @param {FollowState} state
 * @param {number} now
 * @returns {Word}
 */
function doubtWord(state, now) {
  return isFresh(state, now) && state.places.length === 1 ? "off" : "unknown";
}

/**
 * @param {FollowState} state
 * @param {FollowLine} line
 * @param {number} now
 */
function mayBeWrong(state, line, now) {
  if (state.doubtful || isShaken(state, now)) return true;
  if (state.places.length !== 1) return false;
  // Not yet seen to run with the trip, or surely further back than it was: perhaps on its way back.
  const back = state.motion === "moving" && (!state.headed || (state.front !== null && state.front > state.places[0].hi));
  return back || mayBePast(state, line, now) || mayBeBehind(state, line) || (!state.still && isPerhapsBack(state.backward, now, line.top));
}

/**
 * Perhaps past the platform, without a stand in it or though it is said to stand still.
 * @param {FollowState} state
 * @param {FollowLine} line
 * @param {number} now
 */
function mayBePast({ index, stood, past, hand, motion, places, backAt }, line, now) {
  const stop = line.stops[index];
  if (stop === undefined || (past && !hand)) return false;
  const { far } = ends(line, stop);
  if (stood) return motion !== "moving" && places[0].s > far + PASSED_M;
  const jump = backAt !== null && now - backAt < STRANGE_MS ? JUMP_M : 0;
  return later(places[0], now, line.top).hi + jump > far + BEYOND_M || (motion === "standing" && places[0].s > far + LEAST_BOUND_M);
}

/**
 * Running on past the platform without a stand in it or beyond it: the stop behind is not next.
 * @param {FollowState} state
 * @param {FollowLine} line
 */
function isPast({ index, stood, past, placed, hand, places, motion }, line) {
  const stop = line.stops[index];
  if (!placed || stood || past || hand || stop === undefined || places.length !== 1 || motion !== "moving") return false;
  return places[0].s > ends(line, stop).far + BEYOND_M;
}

/**
 * A stand that was perhaps in the platform: until the train stands surely in it or is
 * surely past it, this stop may be made already.
 * @param {FollowState} state
 * @param {FollowLine} line
 */
function mayBeBehind(state, line) {
  const stop = line.stops[state.index];
  return state.perhaps && !state.stood && stop !== undefined && state.places[0].hi >= ends(line, stop).near;
}

/**
 * Opened in mid-line: the trip's first stop is surely not next.
 * @param {FollowState} state
 * @param {FollowLine} line
 */
function elsewhere(state, line) {
  const first = line.stops[0];
  return first !== undefined && state.places.length > 0 && state.places.every((place) => place.lo > ends(line, first).far + PASSED_M);
}

/**
 * A question for the stand: which stop would be next by the place where the train stands?
 * Never taken by itself.
 * @param {FollowState} state
 * @param {FollowLine} line
 * @returns {number | null}
 */
export function proposedByPlace(state, line) {
  if (state.at === null || state.places.length !== 1) return null;
  const index = stopAhead(line, state.at);
  const stop = line.stops[index];
  if (!stop) return null;
  return line.sign * state.at >= ends(line, stop).near ? index + 1 : index;
}

/**
 * The same by the timetable; a late train is elsewhere, so this is only ever asked.
 * @param {{arrive: string | null, depart: string | null}[]} calls in order
 * @param {number} minutes local time of day
 * @returns {number | null}
 */
export function proposedByTime(calls, minutes) {
  const times = calls.map(({ arrive, depart }) => minutesOf(depart ?? arrive));
  const last = times[times.length - 1] ?? null;
  const day = last !== null && last >= 1440 && minutes < last - 1440 ? minutes + 1440 : minutes;
  const index = times.findIndex((time) => time !== null && time >= day);
  return index < 0 ? null : index;
}
