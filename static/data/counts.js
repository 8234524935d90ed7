/**
 * The trip log on the tablet's disk: one entry a day, gone as soon as it is in the outbox.
 *
 * @import {Store} from "./store.js"
 * @import {Draft} from "../core/types.js"
 * @import {DayCounts} from "../core/counts.js"
 */

import { dayOf } from "../core/age.js";
import { added, cellOf, isClosed, itemsOf, withoutReported } from "../core/counts.js";
import { depotTime, readingOf } from "../core/warnings.js";
import { done, transact } from "./idb.js";
import { rowOf } from "./outbox-rows.js";

/** A report saved this long ago is about another approach to the same stop. */
const SAME_APPROACH_MS = 60 * 60_000;

/**
 * A stop was made: the trip stepped on after a stand at the platform, or ended there.
 * @param {Store} store
 * @param {number} index
 */
export async function countApproach(store, index) {
  const { view, rows, receipts } = store.get();
  const now = clock(store);
  const cell = view && cellOf(view, index, now);
  if (!cell) return;
  const reported = [...rows, ...receipts].some(({ item, savedAt }) =>
    item?.kind === "report" && item.body.route === cell.route && item.body.target === cell.target
    && Math.abs(Date.now() - savedAt) < SAME_APPROACH_MS);
  if (!reported) await change(dayOf(now), (counts) => added(counts, cell));
}

/**
 * @param {Store} store
 * @param {Draft} draft as it was saved
 */
export async function uncount(store, { route, target, observedAt, supersedes, edits }) {
  // A correction is about an approach whose report came before.
  if (supersedes || edits) return;
  const at = observedAt + clock(store) - Date.now();
  await change(dayOf(at), (counts) => withoutReported(counts, { route, target, at }));
}

/**
 * Put the days that are over into the outbox: out of here and in there in one step.
 * @param {Store} store
 */
export function handOver(store) {
  const now = clock(store);
  return transact(["counts", "outbox"], "readwrite", async (tx) => {
    const [counts, outbox] = [tx.objectStore("counts"), tx.objectStore("outbox")];
    const days = (await done(counts.getAllKeys())).map(String).filter((day) => isClosed(day, now));
    /** @type {Record<string, DayCounts>} */
    const over = {};
    for (const day of days) over[day] = await done(counts.get(day));
    for (const item of itemsOf(over, () => crypto.randomUUID())) await done(outbox.put(rowOf(item, Date.now())));
    for (const day of days) await done(counts.delete(day));
  });
}

/** @param {Store} store */
function clock(store) {
  return depotTime(readingOf(store.get(), Date.now()));
}

/**
 * @param {string} day
 * @param {(counts: DayCounts) => DayCounts} work
 * @returns {Promise<void>}
 */
function change(day, work) {
  return transact(["counts"], "readwrite", async (tx) => {
    const counts = tx.objectStore("counts");
    const before = /** @type {DayCounts} */ ((await done(counts.get(day))) ?? {});
    const after = work(before);
    if (after === before) return;
    if (Object.keys(after).length === 0) await done(counts.delete(day));
    else await done(counts.put(after, day));
  });
}
