/**
 * What the depot answered to this tablet's reports. Kept whole, so it is there without
 * contact too; the depot gives the whole each time, so nothing can be missed.
 *
 * @import {Store} from "./store.js"
 */

import { answersIn } from "../core/report-answers.js";
import { get } from "./api.js";
import { keep } from "./keep.js";

const KEY = "answers";
/** @type {string | null} */
let etag = null;

/** @param {Store} store */
export async function fetchAnswers(store) {
  if (store.get().receipts.length === 0) return;
  const answer = await get("/api/answers", { etag });
  const answers = answersIn(answer);
  // Not enrolled, not changed, not the depot: what is held stays.
  if (answers === null) return;
  await keep(KEY, answers);
  etag = answer.etag;
  store.set({ answers });
}
