/**
 * Listens to the receiver while a trip is prepared. Positions live in memory for ten
 * seconds and are never written down; only which stop is next is kept.
 *
 * @import {Store} from "./store.js"
 * @import {Fix} from "../core/types.js"
 */

import { follow, lapse, stopMade } from "../core/follow.js";
import { followLine } from "../core/trip.js";
import { refreshView } from "./actions.js";
import { countApproach } from "./counts.js";
import { keepFollow } from "./keep.js";

const TICK_MS = 1_000;
/** Some receivers say nothing while the train stands: ask them. */
const ASK_EVERY_MS = 4_000;
const DENIED = 1;

/** @param {Store} store */
export function startPosition(store) {
  if (!navigator.geolocation) return;
  /** @type {number | null} */
  let watching = null;
  let asked = -Infinity;
  const options = { enableHighAccuracy: true, maximumAge: 0, timeout: ASK_EVERY_MS };
  /** @param {GeolocationPosition} position */
  const onFix = (position) => take(store, fixOf(position));
  /** @param {GeolocationPositionError} error */
  const onError = (error) => {
    // Other codes pass: a tunnel, or a receiver that is still waking up.
    if (error.code === DENIED) store.set({ position: "off" });
  };

  setInterval(() => {
    const { view, follow: state } = store.get();
    if (view && watching === null) {
      store.set({ position: "asked" });
      watching = navigator.geolocation.watchPosition(onFix, onError, options);
    }
    if (!view) return;
    const next = lapse(state, Date.now(), followLine(view));
    if (next !== state) store.set({ follow: next });
    const quiet = performance.now() - asked > ASK_EVERY_MS;
    if (quiet && store.get().position !== "off" && (next.fixAt ?? 0) < Date.now() - ASK_EVERY_MS) {
      asked = performance.now();
      navigator.geolocation.getCurrentPosition(onFix, onError, options);
    }
  }, TICK_MS);
}

/**
 * @param {GeolocationPosition} position
 * @returns {Fix}
 */
function fixOf({ coords, timestamp }) {
  const speed = coords.speed === null || Number.isNaN(coords.speed) ? null : coords.speed;
  return {
    lat: coords.latitude,
    lon: coords.longitude,
    accuracy: coords.accuracy,
    at: timestamp,
    speed,
  };
}

/**
 * @param {Store} store
 * @param {Fix} fix
 */
function take(store, fix) {
  const { view, follow: state } = store.get();
  if (!view) return;
  const next = follow(state, followLine(view), fix, Date.now());
  store.set({ follow: next, position: "on" });
  if (next.index !== state.index || next.stood !== state.stood || next.doubt !== state.doubt) {
    keepFollow(next).catch((error) =>
      console.error("next stop not kept", error),
    );
  }
  const stop = stopMade(state, next);
  if (stop !== null) countApproach(store, stop).catch((error) => console.error("approach not counted", error));
  const thawed = state.frozen && !next.frozen;
  if (next.motion !== state.motion || next.index !== state.index || thawed) refreshView(store);
}
