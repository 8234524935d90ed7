/**
 * What is held here, to be carried to the depot by hand: a file whose `batch` is a delivery
 * as the interface takes it, and what the depot does not have in words.
 *
 * @import {Base, LostRow, OutboxRow, Receipt} from "./types.js"
 * @typedef {typeof import("../words/en.js").words} Words
 */

import { dayOf, timeOfDay } from "./age.js";
import { delivered, offeredOf, rowAgain } from "./again.js";
import { rfc3339 } from "./clock.js";
import { inOrder } from "./outbox.js";
import { correctionOf, sayWords } from "./report.js";
import { reportsOf } from "./rows.js";

/**
 * @param {(OutboxRow | LostRow)[]} rows
 * @param {Receipt[]} receipts of which those that were put aside never reached the depot
 * @param {{installId: string, build: string, now: number}} from
 */
export function unsentFile(rows, receipts, { installId, build, now }) {
  // What the depot has as well: it may have been put back to an older state since.
  const had = delivered(receipts).map((one) => ({ ...rowAgain(one), tries: 1, refused: null }));
  const held = [...sendable(rows, receipts), ...had].toSorted((a, b) => inOrder(/** @type {any} */ (a), /** @type {any} */ (b)));
  return {
    format: "step-in-hand/unsent",
    version: 1,
    // As it would be sent: each item exactly as the depot knows it, should it have come after all.
    batch: {
      install_id: installId, sent_at: rfc3339(now), app_build: build,
      items: held.map((row) => row.item), ...offeredOf(/** @type {any} */ (held)),
    },
    rows: held.map(({ id, seq, savedAt, tries, refused }) =>
      ({ id, seq, saved_at: rfc3339(savedAt), tries, refused })),
    unreadable: rows.filter((row) => row.item === null).map((row) => row.id),
  };
}

/**
 * @param {(OutboxRow | LostRow)[]} rows
 * @param {Receipt[]} receipts
 */
function sendable(rows, receipts) {
  const held = /** @type {OutboxRow[]} */ (rows.filter((row) => row.item !== null));
  return [
    ...held.map((row) => ({ ...row, refused: row.parked })),
    ...receipts.filter((one) => one.putAside).map((one) => ({ ...one, tries: 1, refused: one.putAside })),
  ].toSorted((a, b) => inOrder(/** @type {any} */ (a), /** @type {any} */ (b)));
}

/**
 * @param {(OutboxRow | LostRow)[]} rows
 * @param {Receipt[]} receipts
 * @param {Base | null} base
 * @param {Words} w
 */
export function unsentText(rows, receipts, base, w) {
  const held = reportsOf(sendable(rows, receipts));
  return [w.outbox.textHead(held.length), ...held.map(({ item }) => reportText(item, base, w))].join("\n\n");
}

/**
 * All that a report says, as a sentence with its day.
 * @param {import("./types.js").Item} item
 * @param {Base | null} base
 * @param {Words} w
 */
export function reportText(item, base, w) {
  const own = base && item.body.route === base.route.key ? base : null;
  const draft = correctionOf(item.body, item.id, item.observed_at ?? "", 0);
  const when = `${dayOf(draft.observedAt)} ${timeOfDay(draft.observedAt)}`;
  const said = sayWords(draft, own, "", w);
  return [`${when}: ${said}`, draft.text, draft.driver_name].filter(Boolean).join(" ");
}
