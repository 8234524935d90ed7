/**
 * The question for the warnings that stand now. The depot gives all of them each time. Rows and
 * cursor change in one transaction: whatever moment the tablet dies, the cursor, which names
 * the depot's state, is never ahead of the rows.
 *
 * @import {Store} from "./store.js"
 * @import {Cursor} from "./warnings.js"
 */

import { changes, feedPage } from "../core/warnings.js";
import { get } from "./api.js";
import { TOLD } from "./holding.js";
import { done, transact } from "./idb.js";
import { KEY, STORES, look } from "./warnings.js";

/** @type {Cursor} */
const NOTHING_HELD = { feedNo: 0, mark: "", epoch: "", etag: null, at: 0, offset: null, count: 0 };

/**
 * Ask for all that is in force, and put it in the place of what is held.
 * @param {Store} store
 */
export async function syncWarnings(store) {
  const from = await transact(STORES, "readonly", held);
  // What is held goes along: after a restore the depot may not know it. `since=0` is how depots
  // of every release are asked for the whole.
  const state = `held=${from.feedNo}&mark=${from.mark}&epoch=${from.epoch ?? ""}`;
  const answer = await get(`/api/warnings?since=0&${state}`, { etag: from.etag });
  const { clockOffset: offset } = store.get();
  const same = answer.ours && answer.status === 304 && Boolean(from.etag);
  const page = feedPage(answer);
  if (!page && !same) throw new Error(`/api/warnings: no answer of the depot, status ${answer.status}`);
  await transact(STORES, "readwrite", async (tx) => {
    const now = await held(tx);
    // Another window was quicker.
    if (now.feedNo !== from.feedNo || now.mark !== from.mark || now.epoch !== from.epoch) return;
    const next = page ? { ...(await take(tx, from, page)), etag: answer.etag } : { ...now, at: heardAt(now, offset) };
    await done(tx.objectStore("kv").put({ ...next, offset }, KEY));
  });
}

/**
 * @param {IDBTransaction} tx
 * @returns {Promise<Cursor>}
 */
async function held(tx) {
  return { ...NOTHING_HELD, ...(await look(tx)).cursor };
}

/**
 * @param {IDBTransaction} tx
 * @param {Cursor} from
 * @param {import("../core/warnings.js").FeedPage} page
 */
async function take(tx, from, page) {
  const what = changes((await look(tx)).rows, from, page);
  if (!what) throw new Error(`/api/warnings: number ${page.feedNo} is older than what is held`);
  const warnings = tx.objectStore("warnings");
  // A depot that was restored has forgotten what this tablet said it holds.
  if (page.restored) await done(tx.objectStore("kv").delete(TOLD));
  for (const id of what.drop) await done(warnings.delete(id));
  for (const one of what.put) await done(warnings.put(one));
  const count = await done(warnings.count());
  return { feedNo: page.feedNo, mark: page.mark, epoch: page.epoch, at: page.at, count };
}

/**
 * An answer without words has no time either: the depot was heard just before, by its clock.
 * @param {Cursor} now
 * @param {number | null} offset
 */
function heardAt(now, offset) {
  return offset === null ? now.at : Date.now() + offset;
}
