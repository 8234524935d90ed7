/**
 * The question for the weather of the lines: all of it each time, kept in one row of the disk.
 *
 * @import {Store} from "./store.js"
 */

import { weatherAfter } from "../core/weather.js";
import { get } from "./api.js";
import { keep } from "./keep.js";

/**
 * Ask for what is held of every line; the depot was heard just before.
 * @param {Store} store
 */
export async function syncWeather(store) {
  const held = store.get().weather;
  const answer = await get("/api/weather", { etag: held.etag });
  const next = weatherAfter(held, answer, Date.now() + (store.get().clockOffset ?? 0));
  if (next === held) return;
  // On the disk first: what is shown is what a restart will show.
  await keep("weather", next);
  store.set({ weather: next });
}
