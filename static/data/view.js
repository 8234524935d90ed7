/**
 * The trip as the screens show it, worked out from what is in hand.
 *
 * @import {Store} from "./store.js"
 */

import { seasonDay } from "../core/clock.js";
import { startFollowing } from "../core/follow.js";
import { withdrawal } from "../core/index-text.js";
import { lapsedDays } from "../core/lapse.js";
import { forAnotherRun, isRunOver } from "../core/prepare.js";
import { tripView, withoutAdvice } from "../core/trip.js";
import { readingOf } from "../core/warnings.js";
import { withWeather } from "../core/weather.js";

/**
 * Work the trip out again, unless the card is frozen: then nothing may change.
 * @param {Store} store
 */
export function refreshView(store) {
  const { follow } = store.get();
  if (follow.frozen || (follow.motion === "moving" && follow.at === null)) return;
  const now = Date.now();
  if (follow.motion !== "moving") {
    endRun(store, now);
    proposeByWeather(store, now);
  }
  const { pack, prep, clockOffset, warnings, restrictions, withdrawn, confirmed, confirmedBy } = store.get();
  const warned = { held: warnings.rows, restricted: restrictions.rows, reading: readingOf({ clockOffset, warnings }, now) };
  const day = pack ? seasonDay(now, clockOffset, pack.fetchedAt) : null;
  const view = pack && prep ? tripView(pack, prep, now, day, warned) : null;
  const lapsed = pack ? lapsedDays(pack.base, { at: confirmed ?? pack.fetchedAt, by: confirmedBy }, warned.reading) : null;
  const none = pack && (withdrawal(withdrawn, pack.sha) || lapsed !== null);
  store.set({ lapsed, view: view && none ? withoutAdvice(view) : view });
}

/**
 * A tablet left over night, open or not: the trip is asked for again, and begins at its start.
 * @param {Store} store
 * @param {number} now
 */
function endRun(store, now) {
  const { prep } = store.get();
  if (prep && isRunOver(prep, now)) store.set({ prep: forAnotherRun(prep), follow: startFollowing() });
}

/**
 * What the depot's weather proposes for the trip, unless it is none or no worse than before.
 * @param {Store} store
 * @param {number} now
 */
function proposeByWeather(store, now) {
  const { pack, prep, weather, clockOffset } = store.get();
  if (!pack || !prep) return;
  const next = withWeather(pack.base, prep, weather, { now, offset: clockOffset });
  if (next !== prep) store.set({ prep: next });
}
