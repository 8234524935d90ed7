/**
 * Follows a trip by position. Position picks the stop and nothing else: no distance, no
 * speed and no comment ever leaves this module for the screen. Where the train is comes
 * from estimate.js, whether it moves from motion.js, what the card may show from face.js.
 *
 * @import {Fix, Motion} from "./types.js"
 * @import {Geometry} from "./line.js"
 * @import {Place, Reach, Reading, Strange} from "./estimate.js"
 * @import {Face} from "./face.js"
 * @import {Backward} from "./backward.js"
 * @typedef {{from: number, to: number, earlier: number | null}} FollowStop
 *   a platform's two ends and the earlier of the two brake marks, along the line [m]
 * @typedef {{sign: 1 | -1, geometry: Geometry, walking: number, top: number,
 *   stops: FollowStop[]}} FollowLine top: highest speed allowed anywhere on the line [m/s]
 * @typedef {"missed" | "perhaps" | "turned" | "off line"} Why
 * @typedef {{count: number, index: number | null, at: number | null}} Made
 *   stops made since the trip was opened: how many, which call was the last, when
 * @typedef {{index: number, stood: boolean, past: boolean, through: boolean, placed: boolean, hand: boolean, doubt: Why | null,
 *   perhaps: boolean, doubtful: boolean, gap: boolean, headed: boolean, made: Made, unsure: boolean, frozen: boolean, face: Face,
 *   motion: Motion, at: number | null, fixAt: number | null, sureAt: number | null, slow: number,
 *   slowSince: number | null, fast: number, ranAt: number | null, still: boolean, recent: Fix[], places: Place[], strange: Strange | null,
 *   backAt: number | null, reach: Reach[], front: number | null, shaken: number | null, backward: Backward | null}} FollowState
 *   past: it stood beyond the platform and not in it; through: too fast beyond it for an overrun; hand: the driver chose the stop where it stands;
 *   doubtful: past a stop that was perhaps made, until the next one surely is;
 *   placed: position or driver confirmed that this stop is next; headed: seen to run with the trip, or
 *   to stand, since the receiver began; gap: unseen for so long that
 *   the train may have called and left; front: furthest sure point since the last stand;
 *   reach: places of late that are further on than the present one, for the freeze alone;
 *   backward: where it is if it runs back since its last stand, until that is refuted;
 *   backAt: when the receiver was heard again after a silence;
 *   shaken: when the receiver contradicted itself for so long that one of its places was wrong
 */

import { mayRunBack, runBack } from "./backward.js";
import { lasting, observe, reachOn } from "./estimate.js";
import { faceOf, frozenNow, isFresh, isShaken } from "./face.js";
import {
  ACCURACY_M,
  BLIND_DOUBT_MS,
  BLIND_LOST_MS,
  CALLED_MS,
  FIX_AGE_MS,
  HOLD_MOVING_MS,
  LEAST_BOUND_M,
  OVERRUN_M,
  OVERRUN_MPS,
  PASSED_M,
  REACH_MS,
  SHAKEN_MS,
  TURNED_M,
} from "./follow-numbers.js";
import { isMute, lingers, speedOf, withMotion } from "./motion.js";
import { ends, found, reachedLongAgo } from "./platforms.js";

/**
 * @param {{index?: number, stood?: boolean, doubt?: Why | null}} [kept] what survived a restart
 * @returns {FollowState}
 */
export function startFollowing(kept = {}) {
  const doubt = kept.doubt ?? null;
  return {
    index: kept.index ?? 0,
    stood: kept.stood ?? false,
    past: false,
    through: false,
    placed: kept.index !== undefined,
    hand: false,
    doubt,
    perhaps: false,
    doubtful: false,
    gap: false,
    headed: false,
    made: { count: 0, index: null, at: null },
    unsure: doubt !== null,
    frozen: false,
    face: { index: doubt ? null : (kept.index ?? 0) + (kept.stood ? 1 : 0), word: doubt ? "off" : "unknown" },
    motion: "unknown",
    at: null,
    fixAt: null,
    sureAt: null,
    slow: 0,
    slowSince: null,
    fast: 0,
    ranAt: null,
    still: false,
    recent: [],
    places: [],
    strange: null,
    backAt: null,
    reach: [],
    front: null,
    shaken: null,
    backward: null,
  };
}

/**
 * @param {Fix} fix
 * @param {number} now
 */
export function usable(fix, now) {
  const age = now - fix.at;
  return fix.accuracy <= ACCURACY_M && age <= FIX_AGE_MS && age > -FIX_AGE_MS;
}

/**
 * Take in one fix.
 * @param {FollowState} state
 * @param {FollowLine} line
 * @param {Fix} fix
 * @param {number} now
 * @returns {FollowState}
 */
export function follow(state, line, fix, now) {
  // A stamp that does not go on is an old position handed out again.
  const again = state.fixAt !== null && fix.at <= state.fixAt;
  if (again || !usable(fix, now)) return lapse(state, now, line);
  const moved = withMotion({ ...state, fixAt: fix.at }, fix, line.walking);
  // Beyond a platform it may be set back as well as go on.
  const forward = state.placed && !state.past;
  const reading = { ...speedOf(moved.recent), standing: moved.motion === "standing", forward };
  const seen = observe(state.places, state.strange, line, fix, reading);
  const unseen = state.sureAt !== null && fix.at - state.sureAt > FIX_AGE_MS;
  const next = {
    ...moved,
    places: seen.places,
    strange: seen.strange,
    shaken: seen.replaced && state.places.length > 0 ? fix.at : state.shaken,
    sureAt: seen.fits ? fix.at : state.sureAt,
    backAt: state.fixAt !== null && fix.at - state.fixAt > FIX_AGE_MS ? fix.at : state.backAt,
    backward: backwardOf(moved, seen.places, line, fix, reading),
    gap: state.gap || (unseen && reachedLongAgo(state, line, fix.at, BLIND_DOUBT_MS)),
  };
  next.reach = reachOn(state.reach, seen.places, line, fix, reading, isShaken(next, fix.at) ? SHAKEN_MS : REACH_MS);
  const judged = seen.fits ? judge(next, line, fix.at) : beside(next, fix.at);
  return shown(judged, line, now);
}

/**
 * Time went by without a usable fix.
 * @param {FollowState} state
 * @param {number} now
 * @param {FollowLine} [line] without it nothing can be estimated
 * @returns {FollowState}
 */
export function lapse(state, now, line) {
  const age = state.fixAt === null ? Infinity : Math.abs(now - state.fixAt);
  let next = state;
  if (age > FIX_AGE_MS && state.fixAt !== null) {
    const motion = state.motion === "moving" && age <= HOLD_MOVING_MS ? "moving" : "unknown";
    const quiet = state.recent.length === 0 && state.motion === motion;
    if (!quiet) next = { ...state, slow: 0, slowSince: null, fast: 0, still: false, recent: [], motion };
  }
  return shown(next, line, now);
}

/**
 * The tablet slept, and nobody knows for how long: as after a start, but the train may have
 * called and left.
 * @param {FollowState} state
 * @param {FollowLine} line
 * @param {number} now
 * @returns {FollowState}
 */
export function wake({ index, stood, placed, hand, doubt, perhaps, doubtful, made, face, unsure, fixAt, motion }, line, now) {
  const kept = { index, stood, placed, hand, doubt, perhaps, doubtful, made, face, unsure, fixAt };
  return shown({ ...startFollowing(), ...kept, gap: true, motion: motion === "moving" ? motion : "unknown" }, line, now);
}

/**
 * The driver steps on or back himself; refused while the train moves.
 * @param {FollowState} state
 * @param {number} index
 * @returns {FollowState}
 */
export function stepByHand(state, index) {
  if (state.motion === "moving") return state;
  return {
    ...state,
    index,
    stood: false,
    past: state.past && index === state.index,
    through: false,
    placed: true,
    hand: true,
    doubt: null,
    perhaps: false,
    doubtful: false,
    gap: false,
    unsure: false,
    frozen: false,
    face: { index, word: state.face.word === "sure" ? "sure" : "unknown" },
    front: null,
    strange: null,
  };
}

/**
 * Index of the call at which a stop was made between two states of one trip, or null. This
 * is what a log of stops counts: it comes once for each stop, when the train has left it
 * (at the last one, when it stands).
 * @param {FollowState} before
 * @param {FollowState} after
 * @returns {number | null}
 */
export function stopMade(before, after) {
  return after.made.count > before.made.count ? after.made.index : null;
}

/**
 * Begun again while it stands; not by a stand that a vague receiver only keeps up.
 * @param {FollowState} state
 * @param {Place[]} places
 * @param {FollowLine} line
 * @param {Fix} fix
 * @param {Reading} reading
 * @returns {Backward | null}
 */
function backwardOf({ backward, slowSince }, places, line, fix, reading) {
  if (!reading.standing || slowSince === null) return backward && runBack(backward, line, fix, reading);
  return places.length === 1 ? mayRunBack(places[0]) : null;
}

/**
 * A fix that fits nothing. Long enough beside the line and moving: another line.
 * @param {FollowState} state
 * @param {number} t
 * @returns {FollowState}
 */
function beside(state, t) {
  const { strange } = state;
  const gone = strange !== null && strange.off && lasting(strange, t);
  return gone && state.placed && state.motion === "moving" ? { ...state, doubt: state.doubt ?? "off line" } : state;
}

/**
 * What one sure place says about the stop.
 * @param {FollowState} state
 * @param {FollowLine} line
 * @param {number} t
 * @returns {FollowState}
 */
function judge(state, line, t) {
  if (state.places.length !== 1) return state;
  const [place] = state.places;
  const turned = turn(state, line, place);
  if (turned.doubt !== null) return turned;
  const index = turned.placed ? turned.index : found(turned, line, place);
  return index === null ? turned : step({ ...turned, index, placed: true }, line, place, t);
}

/**
 * A train that runs back along the line is on another trip: no card of this one. Set back from
 * beyond a platform it is not. Further on than it ever was, it was the receiver that ran back.
 * @param {FollowState} state
 * @param {FollowLine} line
 * @param {Place} place
 * @returns {FollowState}
 */
function turn(state, line, place) {
  const headed = state.headed || state.still || place.dir === 1;
  const moving = state.motion === "moving";
  const hand = state.hand && !(moving && place.dir === 1);
  const next = { ...state, headed, hand };
  if (state.doubt === "turned") {
    const on = moving && place.dir === 1 && state.front !== null && place.lo > state.front;
    return on ? { ...next, doubt: null } : next;
  }
  if (state.past) next.front = ends(line, line.stops[state.index]).near;
  else if (moving) next.front = Math.max(state.front ?? place.lo, place.lo);
  else return { ...next, front: place.lo };
  const turned = moving && next.front - place.hi > TURNED_M;
  return { ...next, doubt: state.doubt ?? (turned ? "turned" : null) };
}

/**
 * @param {FollowState} state
 * @param {FollowLine} line
 * @param {Place} place
 * @param {number} t
 * @returns {FollowState}
 */
function step(state, line, place, t) {
  const stop = line.stops[state.index];
  if (!stop) return state;
  const { near, far } = ends(line, stop);
  const inside = place.hi >= near && place.lo <= far;
  if (state.motion === "standing") return stand(state, line, place, t);
  if (state.motion !== "moving") return inside && lingers(state, t) ? { ...state, perhaps: true } : state;
  // Unseen for long, or not surely running while in the platform: it may have called.
  const next = { ...state, gap: state.gap && (place.hi >= near || place.dir !== 1), perhaps: state.perhaps || (inside && isMute(state) && lingers(state, t)) };
  if (place.lo <= far) return next;
  const { speed, error } = speedOf(state.recent);
  next.through = state.through || (speed !== null && speed - error > OVERRUN_MPS);
  if (state.stood || (state.past && place.dir === 1)) return step(left(next, t), line, place, t);
  if (place.lo > far + PASSED_M && place.dir === 1 && (next.perhaps || next.gap)) return step(wentOn(next), line, place, t);
  if (next.past || place.lo <= far + OVERRUN_M) return next;
  return { ...next, doubt: next.perhaps || next.gap ? "perhaps" : "missed" };
}

/**
 * Only a stand surely inside the platform is a stop: not one at a signal just short of it, nor
 * one beyond it. From there it goes on, or back into it and then on: the stop after it is next.
 * @param {FollowState} state
 * @param {FollowLine} line
 * @param {Place} place
 * @param {number} t
 * @returns {FollowState}
 */
function stand(state, line, place, t) {
  const { near, far } = ends(line, line.stops[state.index]);
  const inside = place.lo >= near && place.s <= far + LEAST_BOUND_M;
  const perhaps = place.hi >= near && place.lo <= far;
  const long = state.still || lingers(state, t);
  const shaken = isShaken(state, t);
  if (!inside || !state.still || shaken) {
    const beyond = state.still && !state.stood && !state.through && !inside && place.lo >= near && place.s <= far + OVERRUN_M;
    const doubtful = state.doubtful || (beyond && shaken);
    return { ...state, past: state.past || beyond, doubtful, perhaps: state.perhaps || (perhaps && long) };
  }
  const last = state.index === line.stops.length - 1;
  const doubtful = state.doubtful && !(state.slowSince !== null && t - state.slowSince >= CALLED_MS);
  return { ...state, stood: true, past: false, doubtful, gap: false, made: last && !state.stood ? made(state, t) : state.made };
}

/**
 * @param {FollowState} state
 * @param {number} t
 * @returns {FollowState}
 */
function left(state, t) {
  const counted = state.made.index === state.index || !state.stood;
  const doubtful = state.doubtful && !state.stood;
  return { ...state, index: state.index + 1, stood: false, past: false, through: false, perhaps: false, doubtful, frozen: false, made: counted ? state.made : made(state, t) };
}

/**
 * Past a stop that was perhaps made: the one after it is ahead either way, but nothing is sure.
 * @param {FollowState} state
 * @returns {FollowState}
 */
function wentOn(state) {
  return { ...state, index: state.index + 1, perhaps: false, past: false, through: false, doubtful: true, frozen: false };
}

/**
 * @param {FollowState} state
 * @param {number} t
 * @returns {Made}
 */
function made(state, t) {
  return { count: state.made.count + 1, index: state.index, at: t };
}

/**
 * What the card may show now, frozen or not. Gives the same state back when nothing changed.
 * @param {FollowState} state
 * @param {FollowLine | undefined} line
 * @param {number} now
 * @returns {FollowState}
 */
function shown(state, line, now) {
  const fresh = isFresh(state, now);
  if (!line) return fresh || state.at === null ? state : { ...state, at: null };
  const at = fresh && state.places.length === 1 ? line.sign * state.places[0].s : null;
  const blind = !fresh && state.motion === "moving";
  const gap = state.gap || (blind && reachedLongAgo(state, line, now, BLIND_LOST_MS));
  const next = { ...state, at, gap };
  const frozen = frozenNow(next, line, now);
  // Where no card was when it froze, none appears before the stand.
  const held = frozen && (state.frozen || state.face.index === null);
  const face = faceOf(next, line, now, held);
  const unsure = state.doubt !== null;
  const same = face.index === state.face.index && face.word === state.face.word;
  if (same && frozen === state.frozen && at === state.at && gap === state.gap && unsure === state.unsure) return state;
  return { ...next, frozen, unsure, face: same ? state.face : face };
}
