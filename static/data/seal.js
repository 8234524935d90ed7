/**
 * A seal goes into the outbox under the next of the reports' numbers, in one step: each press
 * is one more, and none takes the place of another.
 *
 * @import {Sealed} from "../core/seal.js"
 */

import { canonical } from "../core/seal.js";
import { done, transact } from "./idb.js";
import { rowOf } from "./outbox-rows.js";

/**
 * @param {Sealed} what
 * @param {number} now
 * @returns {Promise<void>} once it is on the tablet's disk
 */
export async function queueSeal(what, now) {
  const body = { ...what, sha256: await sha256(canonical(what)) };
  const id = crypto.randomUUID();
  await transact(["kv", "outbox"], "readwrite", async (tx) => {
    const kv = tx.objectStore("kv");
    const seq = ((await done(kv.get("seq"))) ?? 0) + 1;
    const row = rowOf({ kind: "seal", id, seq, observed_at: what.sealed_at, body }, now);
    await Promise.all([done(tx.objectStore("outbox").put(row)), done(kv.put(seq, "seq"))]);
  });
}

/** @param {string} text */
async function sha256(text) {
  const bytes = await crypto.subtle.digest("SHA-256", new TextEncoder().encode(text));
  return [...new Uint8Array(bytes)].map((byte) => byte.toString(16).padStart(2, "0")).join("");
}
