/**
 * What the outbox holds, as the screens show it: every row, also one that cannot be read.
 *
 * @import {LostRow, OutboxRow, Receipt} from "../core/types.js"
 */

import { done, transact } from "./idb.js";

/** @returns {Promise<{rows: (OutboxRow | LostRow)[], receipts: Receipt[]}>} */
export async function readAll() {
  try {
    // In one transaction, so that a row on its way from one store to the other is seen once.
    return await transact(["outbox", "receipts"], "readonly", async (tx) => {
      const [rows, receipts] = await Promise.all(
        ["outbox", "receipts"].map((name) => done(tx.objectStore(name).getAll())),
      );
      return { rows: rows.map((row) => (sound(row) ? row : lost(row.id))), receipts: receipts.filter(sound) };
    });
  } catch {
    const rows = await oneByOne("outbox");
    // Receipts are only a memory; what one that cannot be read says is at the depot.
    const receipts = await oneByOne("receipts");
    return {
      rows: rows.map(({ id, row }) => (sound(row) ? row : lost(id))),
      receipts: receipts.map(({ row }) => row).filter(sound),
    };
  }
}

/** @param {any} row */
function sound(row) {
  return typeof row?.item?.kind === "string" && row.item.id === row.id;
}

/**
 * Where the disk does not give a store in one piece, what it gives piece by piece; each in
 * a transaction of its own, since one that fails ends its transaction.
 * @param {string} name
 * @returns {Promise<{id: string, row: any}[]>}
 */
async function oneByOne(name) {
  const keys = await transact([name], "readonly", (tx) => done(tx.objectStore(name).getAllKeys()));
  const found = [];
  for (const id of keys.map(String)) {
    const row = await transact([name], "readonly", (tx) => done(tx.objectStore(name).get(id))).catch(() => null);
    found.push({ id, row });
  }
  return found;
}

/**
 * @param {string} id
 * @returns {LostRow}
 */
function lost(id) {
  const parked = { code: "unreadable", reason: "" };
  return { id, seq: null, savedAt: 0, item: null, tries: 0, firstTryAt: null, parked };
}
