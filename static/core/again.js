/**
 * What was delivered and is still held here: when a depot must be offered it again, and when
 * it may go. A depot may have been put back to an older state, with or without saying so.
 *
 * @import {OutboxRow, Receipt} from "./types.js"
 * @typedef {{epoch: string, highest: number}} Depot which history it is in, and the highest
 *   number of a report that it has
 * @typedef {{epoch: string, asked?: string}} KnownDepot asked: what it said when it was last
 *   offered all again
 */

import { TABLET_DAYS } from "./agreed.js";

const DAY = 24 * 3600_000;

/**
 * @param {any} said
 * @returns {Depot | null} null: an older depot, or one that does not know this tablet
 */
export function depotOf(said) {
  const { epoch, highest } = said?.depot ?? {};
  return typeof epoch === "string" && epoch !== "" && Number.isInteger(highest) ? { epoch, highest } : null;
}

/**
 * Whether the depot may lack what it had: another history, or a number that this tablet was
 * given and that is higher than any it has. Before it has once said which history it is in,
 * nobody knows to which one the delivered reports went.
 * @param {KnownDepot | null} known
 * @param {Depot} said
 * @param {Receipt[]} receipts
 */
export function mayLack(known, said, receipts) {
  if (!known) return delivered(receipts).length > 0;
  if (known.epoch !== said.epoch) return true;
  const mine = Math.max(0, ...delivered(receipts).filter(isReport).map((one) => one.serverNo ?? 0));
  return mine > said.highest && known.asked !== askedOf(said);
}

/** @param {Depot} said */
export function askedOf({ epoch, highest }) {
  return `${epoch} ${highest}`;
}

/**
 * @template {{putAside?: unknown}} T
 * @param {T[]} receipts
 * @returns {T[]}
 */
export function delivered(receipts) {
  return receipts.filter((one) => !one.putAside);
}

/**
 * A receipt as a row again: it says what it said, and the number it was given.
 * @param {Receipt} one
 * @returns {OutboxRow}
 */
export function rowAgain({ id, seq, savedAt, item, serverNo, receivedAt }) {
  return { id, seq, savedAt, item, tries: 1, firstTryAt: savedAt, parked: null, offered: { serverNo, receivedAt } };
}

/**
 * What of a batch was there before: the depot gives it its old number again.
 * @param {{id: string, offered?: {serverNo: number | null}}[]} rows
 * @returns {{offered?: {id: string, server_no: number | null}[]}} nothing of it for an older depot
 */
export function offeredOf(rows) {
  const some = rows.flatMap(({ id, offered }) => (offered ? [{ id, server_no: offered.serverNo }] : []));
  return some.length > 0 ? { offered: some } : {};
}

/**
 * The receipts that may go, by the depot's own clock: this tablet's may be wrong.
 * @param {Receipt[]} receipts
 * @param {number} days
 * @param {number | null} now the depot's time; without it the last it wrote on a receipt
 */
export function outdated(receipts, days, now) {
  const times = delivered(receipts).map((one) => ({ one, at: Date.parse(one.receivedAt) })).filter(({ at }) => !Number.isNaN(at));
  const latest = now ?? Math.max(...times.map(({ at }) => at));
  return times.filter(({ at }) => latest - at > days * DAY).map(({ one }) => one);
}

/**
 * How long the depot wants kept what it has: it stands in its signed index.
 * @param {string | undefined} signed
 */
export function keptDays(signed) {
  try {
    const days = JSON.parse(signed ?? "")?.tablet?.keep_days;
    return Number.isInteger(days) && days > 0 ? days : TABLET_DAYS;
  } catch {
    return TABLET_DAYS;
  }
}

/** @param {Receipt} one */
function isReport(one) {
  return one.item.kind === "report";
}
