/**
 * Listens to the receiver while a trip is prepared, and lets it go when the trip is over or
 * the tablet has been dark for long: it costs the battery most. Positions live in memory for
 * ten seconds and are never written down; only which stop is next is kept.
 *
 * @import {Store} from "./store.js"
 * @import {Fix} from "../core/types.js"
 */

import { dateFix, fixOf, startFixClock } from "../core/fixes.js";
import { FIX_AGE_MS } from "../core/follow-numbers.js";
import { follow, lapse, stopMade, wake } from "../core/follow.js";
import { followLine } from "../core/trip.js";
import { countApproach } from "./counts.js";
import { keepFollow } from "./keep.js";
import { steadyNow } from "./steady.js";
import { refreshView } from "./view.js";

const TICK_MS = 1_000;
/** Some receivers say nothing while the train stands: ask them. */
const ASK_EVERY_MS = 4_000;
/** A tablet that has been dark for longer is not in use; a glance away is no reason to stop. */
const DARK_MS = 10 * 60_000;
const DENIED = 1;

/** @param {Store} store */
export function startPosition(store) {
  if (!navigator.geolocation) return;
  /** @type {number | null} */
  let watching = null;
  let asked = -Infinity;
  let clock = startFixClock();
  const slept = sleepWatch();
  const options = { enableHighAccuracy: true, maximumAge: 0, timeout: ASK_EVERY_MS };

  const settle = () => {
    if (slept()) forgetPast(store);
  };

  /** @param {GeolocationPosition} position */
  const onFix = (position) => {
    settle();
    const dated = dateFix(clock, position.timestamp, Date.now(), steadyNow());
    clock = dated.clock;
    // Of unknown age is as good as none: the next one tells which clock was wrong.
    const fix = dated.at === null ? null : fixOf(position.coords, dated.at);
    if (fix !== null) take(store, fix);
  };
  const onError = noteDenial(store);

  const letGo = () => {
    if (watching !== null) navigator.geolocation.clearWatch(watching);
    watching = null;
  };
  const tick = () => {
    settle();
    const { view, follow: state } = store.get();
    if (!view) return letGo();
    if (watching === null) {
      store.set({ position: "asked" });
      watching = navigator.geolocation.watchPosition(onFix, onError, options);
    }
    const fixAt = state.fixAt ?? -Infinity;
    const next = lapse(state, steadyNow(), followLine(view));
    if (next !== state) store.set({ follow: next });
    // A position of unknown age is settled by the next one: do not wait for it.
    const quiet = performance.now() - asked > (clock.doubt ? TICK_MS : ASK_EVERY_MS);
    if (quiet && store.get().position !== "off" && fixAt < steadyNow() - ASK_EVERY_MS) {
      asked = performance.now();
      navigator.geolocation.getCurrentPosition(onFix, onError, options);
    }
  };
  whileSeen(tick, letGo, () => forgetPast(store));
}

/**
 * @param {Store} store
 * @returns {PositionErrorCallback}
 */
function noteDenial(store) {
  return (error) => {
    // Other codes pass: a tunnel, or a receiver that is still waking up.
    if (error.code === DENIED) store.set({ position: "off" });
  };
}

/**
 * After a sleep nothing that was seen before it tells where the train is.
 * @param {Store} store
 */
function forgetPast(store) {
  const { view, follow: state } = store.get();
  if (view) store.set({ follow: wake(state, followLine(view), steadyNow()) });
}

/**
 * Ticks while the page is seen. Dark for long, it lets go; seen again after that, the past
 * does not count.
 * @param {() => void} tick
 * @param {() => void} letGo
 * @param {() => void} forget
 */
function whileSeen(tick, letGo, forget) {
  /** @type {ReturnType<typeof setInterval> | undefined} */
  let ticking;
  /** @type {ReturnType<typeof setTimeout> | undefined} */
  let dark;
  let gone = false;
  const look = () => {
    clearInterval(ticking);
    clearTimeout(dark);
    if (document.visibilityState === "hidden") {
      dark = setTimeout(() => {
        gone = true;
        letGo();
      }, DARK_MS);
      return;
    }
    if (gone) forget();
    gone = false;
    ticking = setInterval(tick, TICK_MS);
  };
  document.addEventListener("visibilitychange", look);
  look();
}

/**
 * The steady clock may stand still while the tablet sleeps. When the clock on the wall has
 * run ahead of it, it was sleep or somebody set the clock; either way nothing of the past
 * counts until the next position comes.
 */
function sleepWatch() {
  let before = Date.now() - steadyNow();
  return () => {
    const ahead = Date.now() - steadyNow();
    const gap = ahead - before > FIX_AGE_MS;
    before = ahead;
    return gap;
  };
}

/**
 * @param {Store} store
 * @param {Fix} fix
 */
function take(store, fix) {
  const { view, follow: state } = store.get();
  if (!view) return;
  const next = follow(state, followLine(view), fix, steadyNow());
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
