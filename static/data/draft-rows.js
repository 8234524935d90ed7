/**
 * Reports begun and not saved, one row each. A draft's id becomes its report's, so one draft is
 * one report however many windows save it, and what was saved never comes back as a draft.
 *
 * @import {Draft, Item} from "../core/types.js"
 * @typedef {"saved" | "dropped"} Gone why a draft is no draft any more: a report by now, or thrown away
 */

import { done, transact } from "./idb.js";

/** On no trip has anybody this many places to tell of. */
const MOST_MARKS = 20;
/** The draft that this window had in hand, for when it loads the page again. */
const IN_HAND = "sih-draft";

/** Ids that this window has seen on the disk: one of them that is missing there is gone. */
const seen = new Set();

/** A draft that is to be kept or saved, but is no draft any more. */
export class DraftGone extends Error {
  /** @param {Gone} why */
  constructor(why) {
    super(why);
    this.why = why;
  }
}

/** @param {string} id whether it was a row: then it has gone if it is none any more */
export const wasKept = (id) => seen.has(id);

/** @returns {Promise<Draft[]>} in the order in which they were begun */
export async function readDrafts() {
  const all = /** @type {Draft[]} */ (await transact(["drafts"], "readonly", (tx) => done(tx.objectStore("drafts").getAll())));
  for (const { id } of all) seen.add(id);
  return all.filter((one) => typeof one.openedAt === "number").toSorted((a, b) => a.openedAt - b.openedAt);
}

/**
 * @param {Draft} draft
 * @returns {Promise<void>} once it is on the disk
 * @throws {DraftGone} if it was saved or thrown away meanwhile: it does not come back
 */
export async function keepDraft(draft) {
  await transact(["drafts", "outbox", "receipts"], "readwrite", async (tx) => {
    await stillDraft(tx, draft.id);
    await done(tx.objectStore("drafts").put(draft));
  });
  seen.add(draft.id);
}

/**
 * Place and time of a touch on the dark page; of too many the oldest goes.
 * @param {Draft} mark
 */
export async function keepMark(mark) {
  await transact(["drafts"], "readwrite", async (tx) => {
    const drafts = tx.objectStore("drafts");
    const marks = /** @type {Draft[]} */ (await done(drafts.getAll())).filter((one) => one.marked);
    const old = marks.toSorted((a, b) => b.openedAt - a.openedAt).slice(MOST_MARKS - 1);
    for (const { id } of old) await done(drafts.delete(id));
    await done(drafts.put(mark));
  });
  seen.add(mark.id);
}

/**
 * @param {string} id
 * @returns {Promise<void>}
 */
export function dropDraft(id) {
  return transact(["drafts"], "readwrite", async (tx) => void (await done(tx.objectStore("drafts").delete(id))));
}

/**
 * @param {IDBTransaction} tx over drafts, outbox and receipts
 * @param {string} id
 * @returns {Promise<void>}
 * @throws {DraftGone}
 */
export async function stillDraft(tx, id) {
  if (await itemOf(tx, id)) throw new DraftGone("saved");
  if (seen.has(id) && !(await done(tx.objectStore("drafts").get(id)))) throw new DraftGone("dropped");
}

/**
 * @param {IDBTransaction} tx over outbox and receipts
 * @param {string} id
 * @returns {Promise<Item | null>} the report that a draft has become
 */
export async function itemOf(tx, id) {
  const row = (await done(tx.objectStore("outbox").get(id))) ?? (await done(tx.objectStore("receipts").get(id)));
  return row?.item ?? null;
}

/** @returns {string | null} the draft that this window had in hand before it was loaded again */
export function inHandBefore() {
  try {
    return sessionStorage.getItem(IN_HAND);
  } catch {
    return null;
  }
}

/** @param {string | null} id */
export function rememberInHand(id) {
  try {
    if (id) sessionStorage.setItem(IN_HAND, id);
    else sessionStorage.removeItem(IN_HAND);
  } catch {
    // Forbidden: the newest draft is taken up instead.
  }
}
