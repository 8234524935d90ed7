/**
 * The question for newer warnings. Rows and cursor change in one transaction: whatever
 * moment the tablet dies, the cursor is never ahead of the rows.
 *
 * @import {Store} from "./store.js"
 * @import {FeedPage} from "../core/warnings.js"
 */

import { feedPage } from "../core/warnings.js";
import { get } from "./api.js";
import { TOLD } from "./holding.js";
import { done, transact } from "./idb.js";
import { KEY, STORES, look } from "./warnings.js";

const FROM_THE_START = { feedNo: 0, mark: "" };
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
 * @param {{feedNo: number, mark: string}} from
 * @param {number | null} offset
 * @returns {Promise<boolean>} whether there is more
 */
async function takeOne(from, offset) {
  const answer = await get(`/api/warnings?since=${from.feedNo}&mark=${from.mark}`);
  // The depot cannot say what changed since then: the whole again, in place of all rows.
  const start = answer.status === GONE && answer.ours && from.feedNo > 0;
  const whole = start || from.feedNo === 0;
  const page = feedPage(start ? await get("/api/warnings?since=0") : answer);
  if (!page) throw new Error(`/api/warnings: no answer of the depot, status ${answer.status}`);
  return (await apply(from, page, whole, offset)) && page.more;
}

/**
 * @param {{feedNo: number, mark: string}} from where the page begins
 * @param {FeedPage} page
 * @param {boolean} whole it is all there is
 * @param {number | null} offset
 * @returns {Promise<boolean>} false: another window was quicker
 */
function apply(from, page, whole, offset) {
  return transact(STORES, "readwrite", async (tx) => {
    const { cursor } = await look(tx);
    const now = cursor ?? FROM_THE_START;
    if (now.feedNo !== from.feedNo || now.mark !== from.mark) return false;
    const warnings = tx.objectStore("warnings");
    if (whole) await done(warnings.clear());
    // A depot that was restored has forgotten what this tablet said it holds. One that has
    // published nothing yet answers with the whole each time: that is no news.
    if (whole && from.feedNo > 0) await done(tx.objectStore("kv").delete(TOLD));
    for (const one of page.items) {
      // Only the depot's own word takes one away; a status nobody knows here does not.
      if (one.status === "ended") await done(warnings.delete(one.id));
      else await done(warnings.put(one));
    }
    const count = await done(warnings.count());
    const next = { feedNo: page.feedNo, mark: page.mark, at: page.at, offset, count };
    await done(tx.objectStore("kv").put(next, KEY));
    return true;
  });
}
