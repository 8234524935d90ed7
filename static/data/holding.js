/**
 * Receipts for the depot: put together on this tablet's disk, one waiting at a time, sent by
 * the outbox after the reports. Made only when the depot answers, so none piles up offline.
 *
 * @import {Store} from "./store.js"
 * @import {OutboxRow, Warning} from "../core/types.js"
 * @import {ReceiptBody, Revs, Told} from "../core/holding.js"
 */

import { isFull, joined, news, withSeen } from "../core/holding.js";
import { done, transact } from "./idb.js";
import { rowOf } from "./outbox-rows.js";

export const TOLD = "told";
const SEEN = "seenWarnings";
const KIND = "receipt";

/**
 * Put what is new into the outbox: into the receipt that waits there, if it never left.
 * @param {Store} store
 * @param {string} build
 * @returns {Promise<boolean>} whether there was something
 */
export async function noteHolding(store, build) {
  const { tablet, packs } = store.get();
  // A depot that does not know this tablet would know nothing more by its receipts.
  if (!tablet?.valid) return false;
  const held = Object.fromEntries(Object.entries(packs).flatMap(([line, one]) => (one ? [[line, one.sha]] : [])));
  return transact(["kv", "warnings", "outbox"], "readwrite", async (tx) => {
    const [kv, outbox] = [tx.objectStore("kv"), tx.objectStore("outbox")];
    const rows = /** @type {Warning[]} */ (await done(tx.objectStore("warnings").getAll()));
    const seen = /** @type {Revs} */ ((await done(kv.get(SEEN))) ?? {});
    const told = /** @type {Told | undefined} */ (await done(kv.get(TOLD)));
    const found = news(told, { packs: held, rows, seen }, build);
    if (!found) return false;
    const all = /** @type {OutboxRow[]} */ (await done(outbox.getAll()));
    const waits = all.find((row) => row?.item?.kind === KIND && row.tries === 0 && !row.parked);
    const before = waits ? bodyOf(waits) : null;
    const next = waits && before && !isFull(before)
      ? { ...waits, item: { ...waits.item, body: joined(before, found.body) } }
      : rowOf({ kind: KIND, id: crypto.randomUUID(), body: found.body }, Date.now());
    await done(outbox.put(next));
    await done(kv.put(found.told, TOLD));
    return true;
  });
}

/**
 * A Brief stands on the screen with these warnings. It says that they were shown, not that
 * anybody read them.
 * @param {Warning[]} shown
 * @returns {Promise<void>}
 */
export async function noteSeen(shown) {
  if (shown.length === 0 || document.visibilityState !== "visible") return;
  await transact(["kv", "warnings"], "readwrite", async (tx) => {
    const kv = tx.objectStore("kv");
    const held = /** @type {Warning[]} */ (await done(tx.objectStore("warnings").getAll()));
    const next = withSeen((await done(kv.get(SEEN))) ?? {}, shown, held);
    if (next) await done(kv.put(next, SEEN));
  });
}

/**
 * @param {OutboxRow} row
 * @returns {ReceiptBody}
 */
function bodyOf(row) {
  return /** @type {any} */ (row.item.body);
}
