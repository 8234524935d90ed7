/**
 * The trip as the screens show it, worked out from what is in hand.
 *
 * @import {Store} from "./store.js"
 */

import { seasonDay } from "../core/clock.js";
import { withdrawal } from "../core/index-text.js";
import { lapsedDays } from "../core/lapse.js";
import { tripView, withoutAdvice } from "../core/trip.js";
import { readingOf } from "../core/warnings.js";

/**
 * Work the trip out again, unless the card is frozen: then nothing may change.
 * @param {Store} store
 */
export function refreshView(store) {
  const { pack, prep, follow, clockOffset, warnings, restrictions, withdrawn, confirmed } = store.get();
  if (follow.frozen || (follow.motion === "moving" && follow.at === null)) return;
  const now = Date.now();
  const warned = { held: warnings.rows, restricted: restrictions.rows, reading: readingOf({ clockOffset, warnings }, now) };
  const day = pack ? seasonDay(now, clockOffset, pack.fetchedAt) : null;
  const view = pack && prep ? tripView(pack, prep, now, day, warned) : null;
  const lapsed = pack ? lapsedDays(pack.base, confirmed ?? pack.fetchedAt, warned.reading) : null;
  const none = pack && (withdrawal(withdrawn, pack.sha) || lapsed !== null);
  store.set({ lapsed, view: view && none ? withoutAdvice(view) : view });
}
