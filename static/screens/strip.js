/**
 * What is wrong with the tablet's storage, above every page on which it matters. Not on the
 * Next stop card, whose boxes never move, and not on a page of fixed words.
 *
 * @import {Store} from "../data/store.js"
 */

import { words } from "../words/chosen.js";
import { mustBeInstalled } from "../data/installed.js";
import { button, fill, h } from "../elements/dom.js";

const w = words.strip;
const e = words.enrol;

/** @param {{enrolled: boolean, valid: boolean} | null} tablet null: the depot was not asked yet */
export function isStranger(tablet) {
  return tablet !== null && !(tablet.enrolled && tablet.valid);
}

/**
 * @param {HTMLElement} root
 * @param {Store} store
 * @param {boolean} hidden
 */
export function drawStrip(root, store, hidden) {
  const { trouble, full, emptied, unkept, unkeptInUse, tablet, lapsed } = store.get();
  const stranger = tablet && isStranger(tablet) && location.hash !== "#enrol";
  const key = hidden ? "" : JSON.stringify([trouble, full, emptied, unkept, unkeptInUse, stranger && tablet, lapsed]);
  if (root.dataset.drawn === key) return;
  root.dataset.drawn = key;
  if (hidden) return fill(root);
  const notice = (/** @type {string} */ text, /** @type {HTMLElement | null} */ control = null) =>
    h("div", { className: "notice strong", role: "alert" }, h("p", {}, text), control);
  fill(
    root,
    trouble ? notice(w.troubleWords[trouble]) : null,
    unkept ? notice(unkeptInUse ? w.unkeptInUse : w.unkept) : null,
    full ? notice(w.full) : null,
    emptied
      ? notice(w.emptied(emptied.unsent), button(w.emptiedTold, () => store.act.emptiedTold()))
      : null,
    lapsed === null ? null : notice(w.lapsed(lapsed)),
    mustBeInstalled() ? notice(w.notInstalled) : null,
    stranger
      ? notice(tablet.enrolled ? e.ended : e.unknown, h("a", { href: "#enrol", className: "control" }, e.link))
      : null,
  );
}
