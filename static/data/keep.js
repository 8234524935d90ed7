/** Small things kept by name: choices, the draft, which pack is current. */

import { done, transact } from "./idb.js";

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
