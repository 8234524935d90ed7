/**
 * The rows of the Outbox: one line each, opened by a tap.
 *
 * @import {Store} from "../data/store.js"
 * @import {Item, LostRow, OutboxRow, Receipt} from "../core/types.js"
 * @typedef {OutboxRow | LostRow | Receipt} Entry
 */

import { timeOfDay, whenWords } from "../core/age.js";
import { answerWords } from "../core/report-answers.js";
import { correctionOf, editOf, whereWords } from "../core/report.js";
import { reportText } from "../core/unsent.js";
import { button, h } from "../elements/dom.js";
import { words } from "../words/chosen.js";
import { keepCopy } from "./outbox-copy.js";
import { heldPart } from "./outbox-held.js";
import { isStranger } from "./strip.js";

const w = words.outbox;

/**
 * @param {Store} store
 * @param {Set<string>} open
 * @param {(text: string) => void} say
 * @param {import("./outbox-held.js").Reading} reading
 */
export function reports(store, open, say, reading) {
  const { rows, receipts } = store.get();
  const kept = receipts.filter((one) => one.putAside || one.item.kind === "report");
  const shown = [...rows.filter(toShow), ...kept].toSorted((a, b) =>
    urgency(b) - urgency(a) || (b.seq ?? 0) - (a.seq ?? 0));
  const corrected = new Set(shown.map((one) => one.item?.body.supersedes).filter(Boolean));
  if (shown.length === 0) return null;
  return h("ol", { className: "reports" }, ...shown.map((one) => entry(store, one, { open, say, corrected, reading })));
}

/**
 * What the app sends on its own is shown only when a person is needed for it.
 * @param {OutboxRow | LostRow} row
 */
export function toShow(row) {
  return row.parked !== null || row.item?.kind === "report" || row.item?.kind === "seal";
}

/** @param {Entry} one what needs a person comes first, then what waits, then what arrived */
function urgency(one) {
  if ("receivedAt" in one) return 0;
  return one.parked ? 2 : 1;
}

/**
 * @typedef {{open: Set<string>, say: (text: string) => void, corrected: Set<unknown>,
 *   reading: import("./outbox-held.js").Reading}} How
 * @param {Store} store
 * @param {Entry} one
 * @param {How} how
 */
function entry(store, one, how) {
  const { tablet, contact } = store.get();
  const stranger = contact === "enrol" || isStranger(tablet);
  const state = stateOf(one, stranger);
  const answered = answerWords(store.get().answers[one.id], words);
  const heads = [
    h("p", { className: "what" }, ...what(store, one.item)),
    h("p", { className: "state" }, h("span", { className: "mark", "aria-hidden": "true" }), state.text),
    answered && h("p", { className: "answer" }, answered),
  ];
  const li = { className: `report-row ${state.kind}` };
  if (!one.item) return h("li", li, ...heads);
  const details = h(
    "details",
    { open: how.open.has(one.id) || state.kind === "attention" },
    h("summary", { "data-key": one.id }, ...heads),
    ...inside(store, one, one.item, how),
  );
  details.addEventListener("toggle", () => how.open[details.open ? "add" : "delete"](one.id));
  return h("li", li, details);
}

/**
 * @param {Store} store
 * @param {Item | null} item
 */
function what(store, item) {
  if (!item) return [h("strong", {}, w.lost)];
  if (item.kind === "seal") return [h("strong", {}, w.seal(timeOfDay(Date.parse(item.observed_at ?? ""))))];
  if (item.kind !== "report") return [h("strong", {}, w.kindWords[item.kind] ?? w.otherKind)];
  const body = /** @type {any} */ (item.body);
  const base = store.get().pack?.base ?? null;
  const when = whenWords(Date.parse(item.observed_at ?? ""), Date.now());
  const found = words.report.foundWords[/** @type {"good"} */ (body.found)];
  const place = whereWords({ ...body, place: body.place ?? "" }, body.route === base?.route.key ? base : null, words);
  return [h("strong", {}, found), ` ${when}, ${place}`];
}

/**
 * @param {Entry} one
 * @param {boolean} stranger this tablet is not enrolled
 * @returns {{kind: string, text: string}}
 */
function stateOf(one, stranger) {
  if ("receivedAt" in one) {
    if (one.putAside) return { kind: "held", text: `${w.aside}. ${because(one.putAside)}`.trim() };
    const no = one.serverNo === null ? "" : `, ${w.serverNo(one.serverNo)}`;
    const time = Date.parse(one.receivedAt);
    const when = Number.isNaN(time) ? "" : `, ${whenWords(time, Date.now())}`;
    return { kind: "reached", text: `${w.reached}${no}${when}` };
  }
  if (one.parked) return { kind: "attention", text: `${w.attention}. ${because(one.parked)}`.trim() };
  if ("offered" in one && one.offered) return { kind: "held", text: w.offered };
  return { kind: "held", text: one.tries === 0 ? w.notTried : stranger ? w.notCounted : w.tried };
}

/** @param {{code: string, reason: string}} parked the depot's reason, in plain words */
function because({ code, reason }) {
  return `${w.reasons[code] ?? w.reasons.rejected} ${reason}`.trim();
}

/**
 * @param {Store} store
 * @param {OutboxRow | Receipt} one
 * @param {Item} item
 * @param {How} how
 */
function inside(store, one, item, { say, corrected, reading }) {
  const isReport = item.kind === "report";
  const parked = "parked" in one && one.parked !== null;
  const fresh = "parked" in one && one.parked === null && one.tries === 0;
  const notes = isReport ? [
    h("p", { className: "note" }, reportText(item, store.get().pack?.base ?? null, words)),
    item.body.supersedes ? h("p", { className: "note" }, w.corrects) : null,
    corrected.has(one.id) ? h("p", { className: "note" }, w.superseded) : null,
  ] : [];
  const steps = [
    isReport ? button(fresh ? w.change : w.correct, () => reopen(store, item, fresh, say)) : null,
    parked ? button(w.again, () => store.act.sendAgain(one.id)) : null,
    parked ? button(w.export, () => keepCopy(store, one.id)) : null,
    parked ? button(w.putAside, () => store.act.putAside(one.id)) : null,
  ];
  return [...notes, h("div", { className: "steps" }, ...steps), isReport && heldPart(store, one, say, reading)];
}

/**
 * @param {Store} store
 * @param {Item} item
 * @param {boolean} fresh never tried: the row itself may still be changed
 * @param {(text: string) => void} say
 */
async function reopen(store, item, fresh, say) {
  const begun = store.get().draft;
  // One form, one draft: what was begun there must not be swept away.
  if (begun && (begun.found || begun.text || begun.happened.length > 0)) return say(w.draftInHand);
  const make = fresh ? editOf : correctionOf;
  await store.act.saveDraft(make(item.body, item.id, item.observed_at ?? "", Date.now()));
  location.hash = "#report";
}
