/**
 * The question for newer warnings. Rows and cursor change in one transaction: whatever
 * moment the tablet dies, the cursor is never ahead of the rows.
 *
 * @import {Store} from "./store.js"
 * @import {FeedPage, From} from "../core/warnings.js"
 */

import { anotherEpoch, changes, feedPage } from "../core/warnings.js";
import { jsonOf } from "../core/sync.js";
import { get } from "./api.js";
import { TOLD } from "./holding.js";
import { done, transact } from "./idb.js";
import { KEY, STORES, look } from "./warnings.js";

const FROM_THE_START = { feedNo: 0, mark: "", epoch: "" };
const GONE = 410;
const MOST_PAGES = 200;

/**
 * Ask for what changed until nothing more comes.
 * @param {Store} store
 */
export async function syncWarnings(store) {
  const offset = store.get().clockOffset;
  for (let page = 0; page < MOST_PAGES; page++) {
    const from = await transact(STORES, "readonly", async (tx) => (await look(tx)).cursor ?? FROM_THE_START);
    if (!(await takeOne(from, offset))) break;
  }
}

/**
 * @param {From} from
 * @param {number | null} offset
 * @returns {Promise<boolean>} whether there is more
 */
async function takeOne(from, offset) {
  const epoch = from.epoch ? `&epoch=${from.epoch}` : "";
  const answer = await get(`/api/warnings?since=${from.feedNo}&mark=${from.mark}${epoch}`);
  // The depot cannot say what changed since then: the whole again, in place of all rows.
  const gone = answer.status === GONE && answer.ours && from.feedNo > 0;
  let restored = gone && jsonOf(answer)?.code === "restored";
  let page = feedPage(gone ? await get(whole(restored)) : answer);
  if (page && !restored && anotherEpoch(from, page)) {
    restored = true;
    page = feedPage(await get(whole(restored)));
  }
  if (!page) throw new Error(`/api/warnings: no answer of the depot, status ${answer.status}`);
  const how = { whole: gone || restored || from.feedNo === 0, restored };
  return (await apply(from, page, how, offset)) && page.more;
}

/** @param {boolean} restored then what ended is said as well: what is not named stays here */
function whole(restored) {
  return `/api/warnings?since=0${restored ? "&restored=1" : ""}`;
}

/**
 * @param {From} from
 * @param {FeedPage} page
 * @param {{whole: boolean, restored: boolean}} how
 * @param {number | null} offset
 * @returns {Promise<boolean>} false: another window was quicker
 */
function apply(from, page, how, offset) {
  return transact(STORES, "readwrite", async (tx) => {
    const { cursor, rows } = await look(tx);
    const now = cursor ?? FROM_THE_START;
    if (now.feedNo !== from.feedNo || now.mark !== from.mark || (now.epoch ?? "") !== (from.epoch ?? "")) return false;
    const what = changes(rows, from, page, how);
    if (!what) throw new Error(`/api/warnings: number ${page.feedNo} is older than what is held`);
    const warnings = tx.objectStore("warnings");
    // A depot that was restored has forgotten what this tablet said it holds. One that has
    // published nothing yet answers with the whole each time: that is no news.
    if (how.restored || (how.whole && from.feedNo > 0)) await done(tx.objectStore("kv").delete(TOLD));
    for (const id of what.drop) await done(warnings.delete(id));
    for (const one of what.put) await done(warnings.put(one));
    const count = await done(warnings.count());
    const next = { feedNo: page.feedNo, mark: page.mark, epoch: page.epoch, at: page.at, offset, count };
    await done(tx.objectStore("kv").put(next, KEY));
    return true;
  });
}
