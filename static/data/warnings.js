/**
 * Warnings on the tablet's disk, as they are read: rows with the cursor that belongs to them.
 *
 * @import {HeldWarnings, Warning} from "../core/types.js"
 * @import {Store} from "./store.js"
 * @typedef {{feedNo: number, mark: string, epoch?: string, etag?: string | null, at: number, offset: number | null,
 *   count: number}} Cursor feedNo, mark, epoch: the depot's state; etag: its name for the whole; at:
 *   its time of the last answer; count: how many rows belong to it
 */

import { done, transact } from "./idb.js";

export const KEY = "warnings";
export const STORES = ["kv", "warnings"];

/**
 * Put what is held here before the screens. What was read before stays when the storage
 * does not open: a warning is not forgotten because a disk fails.
 * @param {Store} store
 */
export async function showWarnings(store) {
  try {
    store.set({ warnings: await readWarnings() });
  } catch (error) {
    console.error("warnings cannot be read", error);
    store.set({ warnings: { ...store.get().warnings, broken: true } });
  }
}

/** @returns {Promise<HeldWarnings>} */
function readWarnings() {
  return transact(STORES, "readonly", async (tx) => {
    const { cursor, rows } = await look(tx);
    return { rows, at: cursor?.at ?? null, kept: cursor?.offset ?? null, broken: false };
  });
}

/**
 * Rows with the cursor that belongs to them; a cursor whose rows are not all there is none.
 * @param {IDBTransaction} tx
 * @returns {Promise<{cursor: Cursor | null, rows: Warning[]}>}
 */
export async function look(tx) {
  const [cursor, rows] = await Promise.all([
    done(tx.objectStore("kv").get(KEY)),
    done(tx.objectStore("warnings").getAll()),
  ]);
  return { cursor: cursor?.count === rows.length ? cursor : null, rows };
}
