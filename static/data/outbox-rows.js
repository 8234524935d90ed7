/**
 * The outbox's rows on disk. Each change is one strict transaction: a row is in exactly
 * one place, whatever moment the tablet dies.
 *
 * @import {Draft, Item, OutboxRow, Receipt} from "../core/types.js"
 * @import {Ack, Park} from "../core/outbox.js"
 */

import { bodyOf } from "../core/report.js";
import { rfc3339 } from "../core/clock.js";
import { done, transact } from "./idb.js";

const RECEIPTS_KEPT = 100;

/**
 * Turn the draft into a row: number, row and the draft's end in one step, so that a
 * second tap finds no draft. The id is made here, not when the form is opened.
 * @param {Draft} draft
 * @param {number} now
 * @returns {Promise<OutboxRow>}
 */
export function queueReport(draft, now) {
  const id = crypto.randomUUID();
  return transact(["kv", "outbox"], "readwrite", async (tx) => {
    const kv = tx.objectStore("kv");
    const seq = ((await done(kv.get("seq"))) ?? 0) + 1;
    /** @type {Item} */
    const item = { kind: "report", id, seq, observed_at: rfc3339(draft.observedAt), body: bodyOf(draft) };
    /** @type {OutboxRow} */
    const row = { id, seq, savedAt: now, item, tries: 0, firstTryAt: null, parked: null };
    await Promise.all([
      done(tx.objectStore("outbox").put(row)),
      done(kv.put(seq, "seq")),
      done(kv.delete("draft")),
    ]);
    return row;
  });
}

/** @returns {Promise<{rows: OutboxRow[], receipts: Receipt[]}>} */
export function readAll() {
  return transact(["outbox", "receipts"], "readonly", async (tx) => {
    const [rows, receipts] = await Promise.all([
      done(tx.objectStore("outbox").getAll()),
      done(tx.objectStore("receipts").getAll()),
    ]);
    return { rows, receipts };
  });
}

/** @returns {Promise<OutboxRow[]>} rows that are to be sent */
export async function waiting() {
  return (await readAll()).rows.filter((row) => row.parked === null);
}

/**
 * From now on these rows say what they say.
 * @param {string[]} ids
 * @param {number} at
 */
export function freeze(ids, at) {
  return eachRow(ids, (row) => ({ ...row, tries: row.tries + 1, firstTryAt: row.firstTryAt ?? at }));
}

/**
 * @param {string} id
 * @returns {Promise<void>}
 */
export function unpark(id) {
  return eachRow([id], (row) => ({ ...row, parked: null }));
}

/**
 * @param {string[]} ids
 * @param {(row: OutboxRow) => OutboxRow} change
 * @returns {Promise<void>}
 */
function eachRow(ids, change) {
  return transact(["outbox"], "readwrite", async (tx) => {
    const outbox = tx.objectStore("outbox");
    for (const id of ids) {
      const row = await done(outbox.get(id));
      if (row) await done(outbox.put(change(row)));
    }
  });
}

/**
 * @param {Ack[]} acks stored at the depot: the row becomes a receipt
 * @param {Park[]} parks refused for good: the row stays and says why
 * @returns {Promise<void>}
 */
export function settle(acks, parks) {
  return transact(["outbox", "receipts"], "readwrite", async (tx) => {
    const [outbox, receipts] = [tx.objectStore("outbox"), tx.objectStore("receipts")];
    for (const { id, serverNo, receivedAt } of acks) {
      const row = /** @type {OutboxRow | undefined} */ (await done(outbox.get(id)));
      if (!row) continue;
      const { seq, savedAt, item } = row;
      await done(receipts.put({ id, seq, savedAt, item, serverNo, receivedAt }));
      await done(outbox.delete(id));
    }
    for (const { id, code, reason } of parks) {
      const row = await done(outbox.get(id));
      if (row) await done(outbox.put({ ...row, parked: { code, reason } }));
    }
    await trim(receipts);
  });
}

/**
 * Receipts are only a memory of what the depot has: the oldest may go.
 * @param {IDBObjectStore} receipts
 */
async function trim(receipts) {
  const all = /** @type {Receipt[]} */ (await done(receipts.getAll()));
  const old = all.toSorted((a, b) => b.savedAt - a.savedAt).slice(RECEIPTS_KEPT);
  for (const { id } of old) await done(receipts.delete(id));
}

/** @returns {Promise<string>} made once, gone only when the tablet's storage is wiped */
export function installId() {
  return transact(["kv"], "readwrite", async (tx) => {
    const kv = tx.objectStore("kv");
    const known = await done(kv.get("install_id"));
    if (known) return known;
    const made = crypto.randomUUID();
    await done(kv.put(made, "install_id"));
    return made;
  });
}
