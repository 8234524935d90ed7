/**
 * Does the train move? A receiver's own speed is believed; without it, speed is the way
 * between the two halves of the last ten seconds, and a fix that only wanders says nothing.
 *
 * @import {Fix, Motion} from "./types.js"
 * @typedef {{motion: Motion, slow: number, slowSince: number | null, fast: number, still: boolean,
 *   ranAt: number | null, recent: Fix[]}} Moves still: it stands, and does not only creep
 */

import { FAST_FIXES, FIX_AGE_MS, LINGER_MS, SELDOM_MS, SLOW_FIXES, STILL_MPS, STILL_MS, STILL_MUTE_MS } from "./follow-numbers.js";
import { offset } from "./line.js";

/**
 * @template {Moves} T
 * @param {T} state
 * @param {Fix} fix
 * @param {number} walking [m/s]
 * @returns {T}
 */
export function withMotion(state, fix, walking) {
  const recent = [...state.recent.filter((old) => fix.at - old.at <= FIX_AGE_MS && old.at < fix.at), fix];
  const { speed, error } = speedOf(recent);
  let { slow, slowSince, fast, motion } = state;
  if (speed !== null && speed <= walking) {
    slow += 1;
    slowSince ??= fix.at;
    fast = 0;
  }
  const running = speed !== null && speed - error > walking;
  if (running) {
    fast += 1;
    slow = 0;
    slowSince = null;
  } else if (speed !== null && speed > 3 * walking) {
    // Perhaps only a vague receiver, perhaps running: no stand goes on through this.
    slowSince = null;
  }
  // A drifting stand must not begin to move; a tablet that just woke up may say so at once.
  const enough = motion === "standing" ? FAST_FIXES : 1;
  if (slow >= SLOW_FIXES) motion = "standing";
  else if (fast >= enough) motion = "moving";
  const long = slowSince !== null && fix.at - slowSince >= stillAfter(recent) && creep(recent, slowSince) <= STILL_MPS;
  const still = motion === "standing" && long && !wanders(recent, walking);
  return { ...state, recent, slow, slowSince, fast, ranAt: running ? fix.at : state.ranAt, still, motion };
}

/**
 * How long it must have been slow to have stood: a receiver that speaks seldom may have been
 * slow at the one fix only, so its gap is added.
 * @param {Fix[]} recent
 */
function stillAfter(recent) {
  const last = recent[recent.length - 1];
  const gap = last.at - (recent[recent.length - 2]?.at ?? last.at);
  return (last.speed === null ? STILL_MUTE_MS : STILL_MS) + (gap > SELDOM_MS ? gap : 0);
}

/**
 * Its places run on, though a receiver may say that it is slow: one that always says 0, for one.
 * @param {Fix[]} recent
 * @param {number} walking
 */
function wanders(recent, walking) {
  const { speed, error } = wayOf(recent);
  return speed !== null && speed - error > walking;
}

/**
 * Mean of the speeds the receiver gave since it was slow; without any, the way between
 * fixes has said already that it is slow.
 * @param {Fix[]} recent
 * @param {number} since
 */
function creep(recent, since) {
  const speeds = recent.filter((fix) => fix.at > since).map((fix) => fix.speed ?? 0);
  const last = speeds.slice(-Math.max(3, Math.ceil(speeds.length / 2)));
  return last.reduce((sum, speed) => sum + speed, 0) / Math.max(1, last.length);
}

/**
 * A receiver without a speed of its own: a short stand cannot be told from running slowly.
 * @param {Pick<Moves, "recent">} moves
 */
export function isMute({ recent }) {
  return recent[recent.length - 1]?.speed === null;
}

/**
 * Not surely running for so long that it may have stood, whatever a wandering speed says.
 * @param {Pick<Moves, "ranAt">} moves
 * @param {number} t
 */
export function lingers({ ranAt }, t) {
  return ranAt === null || t - ranAt >= LINGER_MS;
}

/**
 * @param {Fix[]} recent oldest first
 * @returns {{speed: number | null, error: number}} [m/s]
 */
export function speedOf(recent) {
  const last = recent[recent.length - 1];
  return last.speed === null ? wayOf(recent) : { speed: last.speed, error: 0 };
}

/**
 * Speed by the way between the two halves.
 * @param {Fix[]} recent oldest first
 * @returns {{speed: number | null, error: number}} [m/s]
 */
function wayOf(recent) {
  const half = Math.floor(recent.length / 2);
  if (half === 0) return { speed: null, error: 0 };
  const [a, b] = [middleOf(recent.slice(0, half)), middleOf(recent.slice(half))];
  const seconds = (b.at - a.at) / 1000;
  if (seconds < 1) return { speed: null, error: 0 };
  const { x, y } = offset(a.lat, a.lon, b.lat, b.lon);
  return { speed: Math.hypot(x, y) / seconds, error: Math.max(a.accuracy, b.accuracy) / seconds };
}

/**
 * Middle of some fixes; one of them that jumped away does not count.
 * @param {Fix[]} fixes
 */
function middleOf(fixes) {
  /** @param {"lat" | "lon" | "accuracy" | "at"} field */
  const median = (field) => {
    const sorted = fixes.map((fix) => fix[field]).toSorted((a, b) => a - b);
    return (sorted[Math.floor((sorted.length - 1) / 2)] + sorted[Math.floor(sorted.length / 2)]) / 2;
  };
  return { lat: median("lat"), lon: median("lon"), accuracy: median("accuracy"), at: median("at") };
}
