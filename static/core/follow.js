/**
 * Follows a trip by position. Position picks the stop and nothing else: no distance, no
 * speed and no comment ever leaves this module for the screen.
 *
 * @import {Fix, Motion} from "./types.js"
 * @typedef {{from: number, to: number, earlier: number | null}} FollowStop
 *   a platform's two ends and the earlier of the two brake marks, along the line [m]
 * @typedef {{sign: 1 | -1, geometry: [number, number, number][], walking: number,
 *   stops: FollowStop[]}} FollowLine
 * @typedef {{index: number, stood: boolean, unsure: boolean, frozen: boolean, motion: Motion,
 *   at: number | null, fixAt: number | null, slow: number, recent: Fix[],
 *   furthest: number | null}} FollowState furthest: in the direction of the trip since the last stand
 */

export const FIX_AGE_MS = 10_000;
export const ACCURACY_M = 200;
/** Further from the line than this the train is somewhere else. */
const OFF_LINE_M = 300;
/** Past the platform by more than this without having stood in it: which stop is next, nobody knows. */
const PASSED_M = 300;
/** The card freezes this long before the earlier mark. */
const FREEZE_S = 30;
/** A train that vanished into a tunnel while moving counts as moving for this long. */
const HOLD_MOVING_MS = 20 * 60_000;
/** One slow fix may be a jump of the receiver; two in a row are a stand. */
const SLOW_FIXES = 2;
const EARTH_M = 6_371_008.8;

/**
 * @param {{index?: number, stood?: boolean}} [kept] what survived a restart
 * @returns {FollowState}
 */
export function startFollowing(kept = {}) {
  return {
    index: kept.index ?? 0,
    stood: kept.stood ?? false,
    unsure: false,
    frozen: false,
    motion: "unknown",
    at: null,
    fixAt: null,
    slow: 0,
    recent: [],
    furthest: null,
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
  if (!usable(fix, now)) return lapse(state, now);
  const matched = matchToLine(line.geometry, fix.lat, fix.lon);
  const recent = [...state.recent.filter((old) => fix.at - old.at <= FIX_AGE_MS), fix];
  const speed = speedOf(recent);
  const slow = speed === null ? state.slow : speed <= line.walking ? state.slow + 1 : 0;
  /** @type {Motion} */
  const motion = slow >= SLOW_FIXES ? "standing" : slow === 0 && speed !== null ? "moving" : state.motion;
  const at = matched && matched.off <= OFF_LINE_M ? matched.at : null;
  const seen = { ...state, recent, slow, motion, at, fixAt: fix.at };
  return freeze(turned(step(seen, line), line), line, speed);
}

/**
 * Time went by without a usable fix.
 * @param {FollowState} state
 * @param {number} now
 * @returns {FollowState}
 */
export function lapse(state, now) {
  const age = state.fixAt === null ? Infinity : Math.abs(now - state.fixAt);
  if (age <= FIX_AGE_MS) return state;
  const moving = state.motion === "moving" && age <= HOLD_MOVING_MS;
  return { ...state, at: null, slow: 0, recent: [], motion: moving ? "moving" : "unknown" };
}

/**
 * The driver steps on or back himself; refused while the train moves.
 * @param {FollowState} state
 * @param {number} index
 * @returns {FollowState}
 */
export function stepByHand(state, index) {
  if (state.motion === "moving") return state;
  return { ...state, index, stood: false, unsure: false, frozen: false, furthest: null };
}

/**
 * First stop whose platform is not behind a position.
 * @param {FollowLine} line
 * @param {number} at
 */
export function stopAhead(line, at) {
  const index = line.stops.findIndex((stop) => beyond(line, stop, at) <= 0);
  return index < 0 ? line.stops.length : index;
}

/**
 * @param {FollowState} state
 * @param {FollowLine} line
 * @returns {FollowState}
 */
function step(state, line) {
  const stop = line.stops[state.index];
  if (!stop || state.at === null) return state;
  const past = beyond(line, stop, state.at);
  if (state.motion === "standing") {
    const inside = past <= 0 && insidePlatform(stop, state.at);
    return { ...state, stood: state.stood || inside };
  }
  if (state.motion !== "moving" || past <= 0) return state;
  if (state.stood) return step({ ...state, index: state.index + 1, stood: false }, line);
  return past > PASSED_M ? { ...state, unsure: true } : state;
}

/**
 * A train that runs back along the line is on another trip: no card of this one.
 * @param {FollowState} state
 * @param {FollowLine} line
 * @returns {FollowState}
 */
function turned(state, line) {
  if (state.at === null) return state;
  const along = line.sign * state.at;
  if (state.motion !== "moving") return { ...state, furthest: along };
  const furthest = Math.max(state.furthest ?? along, along);
  return { ...state, furthest, unsure: state.unsure || furthest - along > PASSED_M };
}

/**
 * @param {FollowState} state
 * @param {FollowLine} line
 * @param {number | null} speed
 * @returns {FollowState}
 */
function freeze(state, line, speed) {
  if (state.motion !== "moving") return { ...state, frozen: false };
  const earlier = line.stops[state.index]?.earlier ?? null;
  if (state.frozen || earlier === null || state.at === null || speed === null) return state;
  const ahead = line.sign * (earlier - state.at);
  return ahead <= FREEZE_S * speed ? { ...state, frozen: true } : state;
}

/**
 * Metres past the far end of a platform; negative before it.
 * @param {FollowLine} line
 * @param {FollowStop} stop
 * @param {number} at
 */
function beyond(line, stop, at) {
  const end = line.sign > 0 ? Math.max(stop.from, stop.to) : Math.min(stop.from, stop.to);
  return line.sign * (at - end);
}

/**
 * @param {FollowStop} stop
 * @param {number} at
 */
function insidePlatform(stop, at) {
  return at >= Math.min(stop.from, stop.to) && at <= Math.max(stop.from, stop.to);
}

/**
 * Speed the receiver gives, else distance over time across the last fixes.
 * @param {Fix[]} recent oldest first
 * @returns {number | null} [m/s]
 */
function speedOf(recent) {
  const last = recent[recent.length - 1];
  if (last.speed !== null) return last.speed;
  const first = recent[0];
  const seconds = (last.at - first.at) / 1000;
  if (seconds < 1.5) return null;
  const { x, y } = offset(first.lat, first.lon, last.lat, last.lon);
  return Math.hypot(x, y) / seconds;
}

/**
 * @param {number} lat0
 * @param {number} lon0
 * @param {number} lat
 * @param {number} lon
 */
function offset(lat0, lon0, lat, lon) {
  const degree = (Math.PI / 180) * EARTH_M;
  const squeeze = Math.cos(((lat + lat0) * Math.PI) / 360);
  return { x: (lon - lon0) * degree * squeeze, y: (lat - lat0) * degree };
}

/**
 * Nearest point of the line's geometry.
 * @param {[number, number, number][]} geometry
 * @param {number} lat
 * @param {number} lon
 * @returns {{at: number, off: number} | null}
 */
export function matchToLine(geometry, lat, lon) {
  /** @type {{at: number, off: number} | null} */
  let best = null;
  for (let i = 1; i < geometry.length; i++) {
    const [lonA, latA, atA] = geometry[i - 1];
    const [lonB, latB, atB] = geometry[i];
    const a = offset(lat, lon, latA, lonA);
    const b = offset(lat, lon, latB, lonB);
    const [dx, dy] = [b.x - a.x, b.y - a.y];
    const length2 = dx * dx + dy * dy;
    const share = length2 > 0 ? Math.min(1, Math.max(0, -(a.x * dx + a.y * dy) / length2)) : 0;
    const off = Math.hypot(a.x + share * dx, a.y + share * dy);
    if (best === null || off < best.off) best = { at: atA + share * (atB - atA), off };
  }
  return best;
}
