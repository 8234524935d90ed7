/**
 * Small things kept by name: choices, the draft, which pack is current.
 *
 * @import {FollowState} from "../core/follow.js"
 */

import { done, transact } from "./idb.js";

/** On no trip does a train run this long without reaching a stop. */
const TRIP_OVER_MS = 3 * 3600_000;

/**
 * @param {string} key
 * @returns {Promise<any>} undefined when there is none
 */
export function recall(key) {
  return transact(["kv"], "readonly", (tx) => done(tx.objectStore("kv").get(key)));
}

/**
 * @param {string} key
 * @param {unknown} value undefined forgets it
 * @returns {Promise<void>}
 */
export async function keep(key, value) {
  await transact(["kv"], "readwrite", async (tx) => {
    const kv = tx.objectStore("kv");
    if (value === undefined) await done(kv.delete(key));
    else await done(kv.put(value, key));
  });
}

/**
 * Which stop is next, with the moment it became so.
 * @param {Pick<FollowState, "index" | "stood" | "doubt">} follow
 */
export function keepFollow({ index, stood, doubt }) {
  return keep("follow", { index, stood, doubt, at: Date.now() });
}

/**
 * Which stop was next, unless that was on an earlier run of the same trip: yesterday's
 * last stop must not be today's first card.
 * @returns {Promise<Pick<FollowState, "index" | "stood" | "doubt"> | undefined>}
 */
export async function recallFollow() {
  const kept = await recall("follow");
  const age = Date.now() - (kept?.at ?? -Infinity);
  return age >= 0 && age <= TRIP_OVER_MS ? kept : undefined;
}
