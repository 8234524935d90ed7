/**
 * The step from one trip of the duty to the next.
 *
 * @import {Store} from "../data/store.js"
 */

import { nextTrip } from "../core/duty.js";
import { button } from "../elements/dom.js";
import { words } from "../words/chosen.js";

/**
 * The way on to the next trip of the duty; nothing while there is none.
 * @param {Store} store
 */
export function nextTripButton(store) {
  const { duty, pack } = store.get();
  const next = pack ? nextTrip(duty, pack.base) : null;
  if (!next) return null;
  return button(words.prepare.nextTrip(next.trip.name), async () => {
    if (await store.act.nextTrip()) location.hash = "brief";
  });
}
