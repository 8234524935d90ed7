/**
 * The Outbox: every report on this tablet and where it is.
 *
 * @import {Store} from "../data/store.js"
 * @import {OutboxRow, Receipt} from "../core/types.js"
 */

import { whenWords } from "../core/age.js";
import { correctionOf, whereWords } from "../core/report.js";
import { button, h, redraw } from "../elements/dom.js";
import { words } from "../words/en.js";

const w = words.outbox;

/**
 * @param {HTMLElement} root
 * @param {Store} store
 * @returns {() => void}
 */
export function mount(root, store) {
  const page = h("section", { className: "outbox", "aria-label": w.title });
  root.replaceChildren(page);
  const draw = () => redraw(page, () => contents(store));
  draw();
  return store.subscribe((state, before) => {
    const keys = /** @type {const} */ (["rows", "receipts", "contact", "sending"]);
    if (keys.some((key) => state[key] !== before[key])) draw();
  });
}

/** @param {Store} store */
function contents(store) {
  const { rows, receipts, contact, sending } = store.get();
  const parked = rows.filter((row) => row.parked !== null);
  const waiting = rows.length - parked.length;
  const all = [...rows, ...receipts].toSorted((a, b) => b.seq - a.seq);
  return [
    h("h1", {}, w.title),
    h(
      "div",
      { className: "standing", role: "status" },
      waiting > 0 ? h("p", { className: "count" }, w.waiting(waiting)) : null,
      parked.length > 0 ? h("p", { className: "count" }, w.parkedCount(parked.length)) : null,
      rows.length === 0 ? h("p", { className: "count" }, receipts.length > 0 ? w.allSent : w.none) : null,
      h("p", {}, sending ? w.trying : w.contact[contact]),
    ),
    waiting > 0 ? button(w.sendNow, () => store.act.sendNow(), "confirm") : null,
    h("p", { className: "note" }, w.notTheSignaller),
    all.length > 0 ? h("ol", { className: "reports" }, ...all.map((one) => entry(store, one))) : null,
  ];
}

/**
 * @param {Store} store
 * @param {OutboxRow | Receipt} one
 */
function entry(store, one) {
  const body = /** @type {any} */ (one.item.body);
  const base = store.get().pack?.base ?? null;
  const when = whenWords(Date.parse(one.item.observed_at), Date.now());
  const found = words.report.foundWords[/** @type {"good"} */ (body.found)];
  const place = whereWords({ ...body, place: body.place ?? "" }, body.route === base?.route.key ? base : null, words);
  const state = stateOf(one);
  return h(
    "li",
    { className: `report-row ${state.kind}` },
    h("p", { className: "what" }, h("strong", {}, found), ` ${when}, ${place}`),
    h("p", { className: "state" }, h("span", { className: "mark", "aria-hidden": "true" }), ...state.text),
    "parked" in one && one.parked ? attention(store, one) : null,
  );
}

/**
 * @param {OutboxRow | Receipt} one
 * @returns {{kind: string, text: string[]}}
 */
function stateOf(one) {
  if ("receivedAt" in one) {
    const no = one.serverNo === null ? "" : `, ${w.serverNo(one.serverNo)}`;
    const time = Date.parse(one.receivedAt);
    const when = Number.isNaN(time) ? "" : `, ${whenWords(time, Date.now())}`;
    return { kind: "reached", text: [`${w.reached}${no}${when}`] };
  }
  if (one.parked) {
    const reason = w.reasons[one.parked.code] ?? w.reasons.rejected;
    return { kind: "attention", text: [`${w.attention}. ${reason} ${one.parked.reason}`.trim()] };
  }
  return { kind: "held", text: [w.onTablet] };
}

/**
 * @param {Store} store
 * @param {OutboxRow} row
 */
function attention(store, row) {
  const correct = async () => {
    await store.act.saveDraft(correctionOf(row.item.body, row.id, row.item.observed_at, Date.now()));
    location.hash = "#report";
  };
  return h(
    "div",
    { className: "steps" },
    button(w.export, () => copyOut(row)),
    button(w.again, () => store.act.sendAgain(row.id)),
    button(w.correct, correct),
  );
}

/** @param {OutboxRow} row */
function copyOut(row) {
  const blob = new Blob([JSON.stringify(row, null, 2)], { type: "application/json" });
  const link = h("a", { href: URL.createObjectURL(blob), download: `report-${row.seq}-${row.id}.json` });
  link.click();
  setTimeout(() => URL.revokeObjectURL(link.href), 60_000);
}
