/**
 * The outbox's rows on disk. Each change is one strict transaction: a row is in exactly
 * one place, whatever moment the tablet dies.
 *
 * @import {Draft, Item, LostRow, OutboxRow, Receipt} from "../core/types.js"
 * @import {Ack, Park} from "../core/answer.js"
 * @import {Depot, KnownDepot} from "../core/again.js"
 */

import { askedOf, delivered, keptDays, mayLack, outdated, rowAgain } from "../core/again.js";
import { bodyOf } from "../core/report.js";
import { rfc3339 } from "../core/clock.js";
import { canonical } from "../core/seal.js";
import { itemOf, stillDraft } from "./draft-rows.js";
import { done, transact } from "./idb.js";
import { readAll } from "./rows.js";

export { readAll };

/** What the depot is offered again when it was put back to an older state. */
const KEPT_KINDS = new Set(["report", "seal"]);
const KNOWN = "depot";

/**
 * Turn the draft into a row: number, row and the draft's end in one step. The draft's id is
 * the report's, so that a second save, from whatever window, finds that it is one already.
 * A draft that edits a row never tried replaces what that row says; once it was tried, or
 * has gone, the draft becomes a new report that names it.
 * @param {Draft} draft
 * @param {number} now
 * @returns {Promise<OutboxRow | Receipt>} the row; the one that is there if this very report was saved before
 * @throws {import("./draft-rows.js").DraftGone} if it was saved with other words, or thrown away
 */
export function queueReport(draft, now) {
  const observed_at = rfc3339(draft.observedAt);
  const body = { ...bodyOf(draft), supersedes: draft.edits ?? draft.supersedes };
  return transact(["kv", "drafts", "outbox", "receipts"], "readwrite", async (tx) => {
    const [kv, drafts, outbox] = ["kv", "drafts", "outbox"].map((name) => tx.objectStore(name));
    const before = await itemOf(tx, draft.id);
    if (before && canonical({ ...before, seq: 0 }) === canonical({ kind: "report", id: draft.id, seq: 0, observed_at, body })) {
      return (await done(outbox.get(draft.id))) ?? (await done(tx.objectStore("receipts").get(draft.id)));
    }
    await stillDraft(tx, draft.id);
    const old = draft.edits ? await done(outbox.get(draft.edits)) : null;
    if (old && old.tries === 0 && !old.parked) {
      const changed = { ...old, item: { ...old.item, observed_at, body: { ...body, supersedes: draft.supersedes } } };
      await Promise.all([done(outbox.put(changed)), done(drafts.delete(draft.id))]);
      return changed;
    }
    const seq = ((await done(kv.get("seq"))) ?? 0) + 1;
    const row = rowOf({ kind: "report", id: draft.id, seq, observed_at, body }, now);
    await Promise.all([done(outbox.put(row)), done(kv.put(seq, "seq")), done(drafts.delete(draft.id))]);
    return row;
  });
}

/**
 * A row as it begins. Items of other kinds than "report" have no number; whoever makes
 * them puts the row into the store "outbox" in a transaction of its own making.
 * @param {Item} item
 * @param {number} now
 * @returns {OutboxRow}
 */
export function rowOf(item, now) {
  return { id: item.id, seq: item.seq ?? null, savedAt: now, item, tries: 0, firstTryAt: null, parked: null };
}

/**
 * @param {Item} item of a kind without number
 * @param {number} now
 * @returns {Promise<void>}
 */
export function queueItem(item, now) {
  return transact(["outbox"], "readwrite", async (tx) => {
    await done(tx.objectStore("outbox").put(rowOf(item, now)));
  });
}

/** @returns {Promise<OutboxRow[]>} rows that are to be sent */
export async function waiting() {
  const { rows } = await readAll();
  return /** @type {OutboxRow[]} */ (rows.filter((row) => row.item !== null && row.parked === null));
}

/**
 * From now on these rows say what they say.
 * @param {string[]} ids
 * @param {number} at
 * @returns {Promise<OutboxRow[]>} as they stand on disk; without those that are gone or parked
 */
export function freeze(ids, at) {
  return eachRow(ids, (row) =>
    row.parked ? null : { ...row, tries: row.tries + 1, firstTryAt: row.firstTryAt ?? at });
}

/**
 * @param {string} id
 * @returns {Promise<void>}
 */
export async function unpark(id) {
  await eachRow([id], (row) => ({ ...row, parked: null }));
}

/**
 * @param {string[]} ids
 * @param {(row: OutboxRow) => OutboxRow | null} change null: leave it
 * @returns {Promise<OutboxRow[]>} the changed ones
 */
function eachRow(ids, change) {
  return transact(["outbox"], "readwrite", async (tx) => {
    const outbox = tx.objectStore("outbox");
    const changed = [];
    for (const id of ids) {
      const row = await done(outbox.get(id));
      const next = row ? change(row) : null;
      if (!next) continue;
      await done(outbox.put(next));
      changed.push(next);
    }
    return changed;
  });
}

/**
 * @param {Ack[]} acks stored at the depot: the row becomes a receipt
 * @param {Park[]} parks refused for good: the row stays and says why
 * @returns {Promise<void>}
 */
export async function settle(acks, parks) {
  await transact(["outbox", "receipts"], "readwrite", async (tx) => {
    const [outbox, receipts] = [tx.objectStore("outbox"), tx.objectStore("receipts")];
    for (const { id, serverNo, receivedAt, removed } of acks) {
      const row = /** @type {OutboxRow | undefined} */ (await done(outbox.get(id)));
      if (!row) continue;
      const { seq, savedAt, item } = row;
      if (KEPT_KINDS.has(item.kind) && !removed) {
        await done(receipts.put({ id, seq, savedAt, item, serverNo, receivedAt }));
      }
      await done(outbox.delete(id));
    }
    for (const { id, code, reason } of parks) {
      const row = await done(outbox.get(id));
      // A depot that knows no receipts: no driver can do anything about it, and the next
      // build of the app says all of it again.
      if (row?.item.kind === "receipt") await done(outbox.delete(id));
      else if (row) await done(outbox.put({ ...row, parked: { code, reason } }));
    }
  });
  // Apart from the rest: receipts that cannot be read must not keep a row from being settled.
  await trim(null).catch(() => {});
}

/**
 * What the depot has is kept as long as it says under its signature, for the day on which it
 * is put back to an older state.
 * @param {number | null} now the depot's time, where it is known
 */
async function trim(now) {
  await transact(["kv", "receipts"], "readwrite", async (tx) => {
    const receipts = tx.objectStore("receipts");
    const days = keptDays((await done(tx.objectStore("kv").get("index")))?.text);
    const all = /** @type {Receipt[]} */ (await done(receipts.getAll()));
    for (const { id } of outdated(all, days, now)) await done(receipts.delete(id));
  });
}

/**
 * Offer again all that is held, where the depot may lack it: receipts become rows in the step
 * in which the depot's new history is noted, so whatever moment the tablet dies, none is missed.
 * @param {Depot} said
 * @param {number | null} now the depot's time
 * @returns {Promise<number>} how many
 */
export async function offerAgain(said, now) {
  const count = await transact(["kv", "outbox", "receipts"], "readwrite", async (tx) => {
    const [kv, outbox, receipts] = ["kv", "outbox", "receipts"].map((name) => tx.objectStore(name));
    const known = /** @type {KnownDepot | undefined} */ (await done(kv.get(KNOWN)));
    const all = /** @type {Receipt[]} */ (await done(receipts.getAll()));
    if (!mayLack(known ?? null, said, all)) {
      if (!known) await done(kv.put({ epoch: said.epoch }, KNOWN));
      return 0;
    }
    await done(kv.put({ epoch: said.epoch, asked: askedOf(said) }, KNOWN));
    const some = delivered(all);
    for (const one of some) {
      await done(outbox.put(rowAgain(one)));
      await done(receipts.delete(one.id));
    }
    return some.length;
  });
  await trim(now).catch(() => {});
  return count;
}

/**
 * The driver has dealt with a report that the depot refused: it leaves the list of what is
 * to be done, not the tablet.
 * @param {string} id
 * @param {number} now
 * @returns {Promise<void>}
 */
export function putAside(id, now) {
  return transact(["outbox", "receipts"], "readwrite", async (tx) => {
    const outbox = tx.objectStore("outbox");
    const row = /** @type {OutboxRow | undefined} */ (await done(outbox.get(id)));
    if (!row?.parked) return;
    const { seq, savedAt, item, parked } = row;
    const aside = { id, seq, savedAt, item, serverNo: null, receivedAt: "", putAside: { at: now, ...parked } };
    await done(tx.objectStore("receipts").put(aside));
    await done(outbox.delete(id));
  });
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
