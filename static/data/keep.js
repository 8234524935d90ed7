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
 * Several at once: one question to the storage instead of many.
 * @param {string[]} keys
 * @returns {Promise<any>} by key; undefined where there is none
 */
export function recallAll(keys) {
  return transact(["kv"], "readonly", async (tx) => {
    const kv = tx.objectStore("kv");
    return Object.fromEntries(await Promise.all(keys.map(async (key) => [key, await done(kv.get(key))])));
  });
}

/**
 * @param {string} key
 * @param {unknown} value undefined forgets it
 * @returns {Promise<void>}
 */
export function keep(key, value) {
  return keepAll({ [key]: value });
}

/**
 * Several things at once: all of them are on the disk, or none is.
 * @param {Record<string, unknown>} values undefined forgets one
 * @returns {Promise<void>}
 */
export async function keepAll(values) {
  await transact(["kv"], "readwrite", async (tx) => {
    const kv = tx.objectStore("kv");
    await Promise.all(Object.entries(values).map(([key, value]) => (
      value === undefined ? done(kv.delete(key)) : done(kv.put(value, key))
    )));
  });
}

/**
 * Which stop is next, with the moment it became so.
 * @param {Pick<FollowState, "index" | "stood" | "doubt" | "doubtful">} follow
 */
export function keepFollow(follow) {
  return keep("follow", followRow(follow));
}

/**
 * What is kept of where the train is: no position. A stop that was perhaps made is asked about
 * after a restart.
 * @param {Pick<FollowState, "index" | "stood" | "doubt" | "doubtful">} follow
 */
export function followRow({ index, stood, doubt, doubtful }) {
  if (doubtful && !stood && doubt === null && index > 0) return { index: index - 1, stood, doubt: "perhaps", at: Date.now() };
  return { index, stood, doubt, at: Date.now() };
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
