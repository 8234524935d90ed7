/**
 * The Outbox: every report on this tablet and where it is. What the depot does not have
 * can be read, changed, corrected, and carried there by hand.
 *
 * @import {Store} from "../data/store.js"
 * @import {Contact} from "../core/types.js"
 */

import { reportsOf } from "../core/rows.js";
import { button, fill, h, redraw } from "../elements/dom.js";
import { untouched } from "../elements/touch.js";
import { words } from "../words/chosen.js";
import { reports, toShow } from "./outbox-list.js";
import { keepCopy, shareText } from "./outbox-copy.js";
import { isStranger } from "./strip.js";

const w = words.outbox;

/**
 * @param {HTMLElement} root
 * @param {Store} store
 * @returns {() => void}
 */
export function mount(root, store) {
  const page = h("section", { className: "outbox", "aria-label": w.title });
  root.replaceChildren(page);
  const message = h("p", { className: "message", role: "alert" });
  /** Rows the driver has opened. @type {Set<string>} */
  const open = new Set();
  /** @param {string} text */
  const say = (text) => fill(message, text);
  /** @type {import("./outbox-held.js").Reading} */
  const reading = { read: new Map(), draw: () => untouched(page, draw) };
  const draw = () => redraw(page, () => contents(store, open, message, say, reading));
  draw();
  return store.subscribe((state, before) => {
    const keys = /** @type {const} */ (["rows", "receipts", "answers", "contact", "sending", "pack", "refused", "tablet"]);
    if (keys.some((key) => state[key] !== before[key])) untouched(page, draw);
  });
}

/**
 * @param {Store} store
 * @param {Set<string>} open
 * @param {HTMLElement} message
 * @param {(text: string) => void} say
 * @param {import("./outbox-held.js").Reading} reading
 */
function contents(store, open, message, say, reading) {
  const { rows, receipts, contact, sending } = store.get();
  const waiting = rows.filter((row) => row.parked === null && toShow(row)).length;
  const unsent = rows.filter(toShow).length + receipts.filter((one) => one.putAside).length;
  return [
    h("h1", {}, w.title),
    standing(store, sending, contact),
    waiting > 0 ? button(w.sendNow, () => store.act.sendNow(), "confirm") : null,
    h("p", { className: "note" }, w.notTheSignaller),
    message,
    reports(store, open, say, reading),
    unsent + receipts.length > 0
      ? h("div", { className: "steps copies" },
          button(w.exportAll, () => keepCopy(store), "quiet"),
          unsent > 0 ? button(w.share, () => shareText(store).then(say), "quiet") : null)
      : null,
  ];
}

/**
 * @param {Store} store
 * @param {boolean} sending
 * @param {Contact} contact
 */
function standing(store, sending, contact) {
  const { rows, receipts, refused, tablet } = store.get();
  const mine = reportsOf(rows);
  const parked = rows.filter((row) => row.parked !== null).length;
  const open = mine.filter((row) => row.parked === null);
  const again = open.filter((row) => "offered" in row && row.offered).length;
  const waiting = open.length - again;
  const reached = reportsOf(receipts).some((one) => !one.putAside);
  return h(
    "div",
    { className: "standing", role: "status" },
    again > 0 ? h("p", { className: "count" }, w.offeredCount(again)) : null,
    waiting > 0 ? h("p", { className: "count" }, w.waiting(waiting)) : null,
    parked > 0 ? h("p", { className: "count" }, w.parkedCount(parked)) : null,
    !rows.some(toShow) ? h("p", { className: "count" }, reached ? w.allSent : w.none) : null,
    // What stands above every page is not said twice.
    contact === "enrol" && isStranger(tablet) && !sending ? null : h("p", {}, sending ? w.trying : w.contact[contact]),
    refused ? h("p", {}, words.depot.refusedWords[refused], " ", words.depot.refusedMore) : null,
  );
}
