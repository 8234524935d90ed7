/**
 * A driver reads and copies all that is held about a report: as it lies here, and as the
 * depot has it where it can be asked.
 *
 * @import {Store} from "../data/store.js"
 * @import {OutboxRow, Receipt} from "../core/types.js"
 * @typedef {{read: Map<string, {said: string, text: string}>, draw: () => void}} Reading
 */

import { depotPart, heldText } from "../core/held.js";
import { get } from "../data/api.js";
import { button, h } from "../elements/dom.js";
import { words } from "../words/chosen.js";
import { giveText } from "./outbox-copy.js";

const w = words.outbox.held;

/**
 * @param {Store} store
 * @param {OutboxRow | Receipt} one
 * @param {(text: string) => void} say
 * @param {Reading} reading
 */
export function heldPart(store, one, say, reading) {
  const known = reading.read.get(one.id);
  return h("div", { className: "held" },
    button(w.read, () => ask(store, one, reading), "quiet"),
    known ? h("p", { className: "note", role: "status" }, known.said) : null,
    // Above what is copied: that is some screens long.
    known?.text ? button(w.copy, () => giveText(known.text).then(say), "quiet") : null,
    known?.text ? h("pre", { tabIndex: 0 }, known.text) : null);
}

/**
 * @param {Store} store
 * @param {OutboxRow | Receipt} one
 * @param {Reading} reading
 */
async function ask(store, one, reading) {
  reading.read.set(one.id, { said: w.asking, text: "" });
  reading.draw();
  const part = depotPart(await get(`/api/reports/${one.id}`).catch(() => null));
  const text = heldText(one, store.get().answers[one.id], part, Date.now());
  reading.read.set(one.id, { said: w[part.told], text });
  reading.draw();
}
