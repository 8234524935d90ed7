/**
 * What a tablet tells the depot of itself: which packs it holds, which warnings it took in
 * and which of them a Brief has shown. No driver, no trip, no place and no time is in it.
 *
 * @import {Warning} from "./types.js"
 * @typedef {Record<string, number>} Revs revision by id of a warning
 * @typedef {{build: string, packs: Record<string, string>, received: Revs, seen: Revs, before?: Revs}} Told what
 *   was put into the outbox so far, by which build of the app
 * @typedef {{packs: Record<string, string>, rows: Warning[], seen: Revs}} Holding pack by line;
 *   warnings on the disk; what a Brief has shown
 * @typedef {{packs: {route: string, pack: string}[], received: Said[], seen: Said[], before?: Warning[]}} ReceiptBody
 *   before: whole, what is held from before the depot was put back, which does not name it
 * @typedef {{warning: string, rev: number}} Said
 */

import { MOST_BEFORE, MOST_SAID } from "./agreed.js";

/**
 * What is new since the last receipt. Another build begins again: its depot may have refused
 * the former one's receipts, or not have known them.
 * @param {Told | undefined} told
 * @param {Holding} holding
 * @param {string} build
 * @returns {{body: ReceiptBody, told: Told} | null} null: nothing is new
 */
export function news(told, holding, build) {
  const before = told?.build === build ? told : { build, packs: {}, received: {}, seen: {} };
  const held = revisions(holding.rows);
  const received = newer(held, before.received);
  const seen = newer(among(holding.seen, held), before.seen);
  const packsNew = textOf(holding.packs) !== textOf(before.packs);
  const kept = heldBefore(holding.rows).filter(({ id, rev }) => before.before?.[id] !== rev).slice(0, MOST_BEFORE);
  if (!packsNew && received.length === 0 && seen.length === 0 && kept.length === 0) return null;
  return {
    body: { packs: listed(holding.packs), received, seen, ...(kept.length > 0 ? { before: kept } : {}) },
    told: {
      build,
      packs: holding.packs,
      // Of what is no longer held nothing has to be remembered.
      received: { ...among(before.received, held), ...revsOf(received) },
      seen: { ...among(before.seen, held), ...revsOf(seen) },
      before: { ...among(before.before ?? {}, held), ...revisions(kept) },
    },
  };
}

/**
 * What the depot must be told of, as the interface takes it; one that is not whole cannot be
 * told again there, and stays here.
 * @param {Warning[]} rows
 * @returns {Warning[]}
 */
function heldBefore(rows) {
  return rows.filter((one) => one.heldBefore && Number.isInteger(one.rev) && one.line && one.direction && one.state && one.from_at
    && Number.isFinite(one.from_m) && Number.isFinite(one.to_m))
    .map(({ id, rev, line, direction, datum, from_m, to_m, state, reason, from_at, review_at, told_by, reference }) => ({
      id, rev, line, direction, datum: datum ?? "", from_m, to_m, state, reason: reason ?? "", from_at,
      review_at: review_at ?? null, told_by: told_by ?? "", reference: reference ?? "",
    }));
}

/**
 * One receipt in the place of two: the first has not left yet.
 * @param {ReceiptBody} first
 * @param {ReceiptBody} second
 * @returns {ReceiptBody}
 */
export function joined(first, second) {
  /** @param {"received" | "seen"} part */
  const both = (part) => saidOf({ ...revsOf(first[part]), ...revsOf(second[part]) });
  const before = [...(first.before ?? []).filter(({ id }) => !second.before?.some((one) => one.id === id)), ...(second.before ?? [])];
  const held = before.length > 0 ? { before } : {};
  return { packs: second.packs, received: both("received"), seen: both("seen"), ...held };
}

/**
 * Note that a Brief showed these.
 * @param {Revs} seen
 * @param {Warning[]} shown
 * @param {Warning[]} held
 * @returns {Revs | null} null: nothing changes
 */
export function withSeen(seen, shown, held) {
  const next = { ...among(seen, revisions(held)), ...revisions(shown) };
  return textOf(next) === textOf(seen) ? null : next;
}

/** @param {ReceiptBody} body */
export function isFull({ received, seen, before = [] }) {
  return received.length >= MOST_SAID || seen.length >= MOST_SAID || before.length > 0;
}

/**
 * @param {Warning[]} rows
 * @returns {Revs} without those whose revision is not known
 */
function revisions(rows) {
  return Object.fromEntries(rows.flatMap(({ id, rev }) => (Number.isInteger(rev) ? [[id, Number(rev)]] : [])));
}

/**
 * @param {Revs} now
 * @param {Revs} before
 * @returns {Said[]}
 */
function newer(now, before) {
  const some = Object.keys(now).filter((id) => now[id] !== before[id]);
  return saidOf(Object.fromEntries(some.map((id) => [id, now[id]]))).slice(0, MOST_SAID);
}

/**
 * @param {Revs} some
 * @param {Revs} others
 */
function among(some, others) {
  return Object.fromEntries(Object.entries(some).filter(([id]) => id in others));
}

/**
 * In the order of their ids: the order in which they were read is nobody's business.
 * @param {Revs} revs
 * @returns {Said[]}
 */
function saidOf(revs) {
  return Object.keys(revs).toSorted().map((warning) => ({ warning, rev: revs[warning] }));
}

/**
 * @param {Said[]} said
 * @returns {Revs}
 */
function revsOf(said) {
  return Object.fromEntries(said.map(({ warning, rev }) => [warning, rev]));
}

/** @param {Record<string, string>} packs */
function listed(packs) {
  return Object.keys(packs).toSorted().map((route) => ({ route, pack: packs[route] }));
}

/** @param {Record<string, unknown>} record */
function textOf(record) {
  return JSON.stringify(Object.entries(record).toSorted(([a], [b]) => (a < b ? -1 : 1)));
}
