/**
 * The question for the temporary speed restrictions that stand now. The depot gives all of
 * them each time, and they are kept in one row of the disk: none can be skipped.
 *
 * @import {Store} from "./store.js"
 */

import { afterAnswer } from "../core/restrictions.js";
import { get } from "./api.js";
import { keep } from "./keep.js";

/**
 * Ask for all that are live or to come; the depot was heard just before.
 * @param {Store} store
 * @returns {Promise<boolean>} whether other ones are held now
 */
export async function syncRestrictions(store) {
  const held = store.get().restrictions;
  const answer = await get("/api/restrictions", { etag: held.etag });
  const next = afterAnswer(held, answer, Date.now() + (store.get().clockOffset ?? 0));
  if (next === held) throw new Error(`/api/restrictions: no answer of the depot, status ${answer.status}`);
  // On the disk first: what is shown is what a restart will show.
  await keep("restrictions", next);
  store.set({ restrictions: next });
  return JSON.stringify(next.rows) !== JSON.stringify(held.rows);
}
