/**
 * When was a position taken? The receiver stamps it by a clock of its own, so a tablet whose
 * clock is wrong must not make every position old, and an old position that the system
 * hands out again must not become young. What counts is how the stamps go on: the least
 * lateness seen is the difference of the two clocks, all above it is age.
 *
 * @import {Fix} from "./types.js"
 * @typedef {{lead: number | null, doubt: {stamp: number, arrived: number} | null}} FixClock
 */

/** Clocks that differ by less than this agree as far as positions are concerned. */
const AGREE_MS = 10_000;
/** Two stamps this far apart show whether they go on as time does. */
const APART_MS = 1_000;

/** @returns {FixClock} */
export function startFixClock() {
  return { lead: null, doubt: null };
}

/**
 * @param {FixClock} clock
 * @param {number} stamp when the receiver says it was
 * @param {number} now when it came, by the tablet's clock, which receivers mostly stamp by
 * @param {number} arrived the same moment by the steady clock
 * @returns {{clock: FixClock, at: number | null}} at: by the steady clock; null when nobody
 *   can tell yet
 */
export function dateFix(clock, stamp, now, arrived) {
  const late = now - stamp;
  const lead = clock.lead ?? (Math.abs(late) <= AGREE_MS ? Math.min(late, 0) : null);
  if (lead !== null && Math.abs(late - lead) <= AGREE_MS) {
    const least = Math.min(lead, late);
    return { clock: { lead: least, doubt: null }, at: arrived - (late - least) };
  }
  if (goesOn(clock.doubt, stamp, arrived)) {
    // It was the clocks after all: they have differed by this much for a second or more.
    return { clock: { lead: late, doubt: null }, at: arrived };
  }
  const waiting = clock.doubt !== null && arrived - clock.doubt.arrived < APART_MS;
  const doubt = waiting ? clock.doubt : { stamp, arrived };
  return { clock: { lead: clock.lead, doubt }, at: null };
}

/**
 * @param {FixClock["doubt"]} doubt
 * @param {number} stamp
 * @param {number} arrived
 */
function goesOn(doubt, stamp, arrived) {
  if (doubt === null) return false;
  const passed = arrived - doubt.arrived;
  return passed >= APART_MS && Math.abs(stamp - doubt.stamp - passed) <= passed / 2;
}

/**
 * What the browser hands out; null where a number is missing. Some receivers give a negative
 * one for "not known".
 * @param {Pick<GeolocationCoordinates, "latitude" | "longitude" | "accuracy" | "speed">} coords
 * @param {number} at by the steady clock
 * @returns {Fix | null}
 */
export function fixOf({ latitude, longitude, accuracy, speed }, at) {
  if (![latitude, longitude, accuracy].every(Number.isFinite) || accuracy < 0) return null;
  const known = speed !== null && Number.isFinite(speed) && speed >= 0;
  return { lat: latitude, lon: longitude, accuracy, at, speed: known ? speed : null };
}
