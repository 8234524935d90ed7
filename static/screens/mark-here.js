/**
 * The one control of the dark page, where the company allows it: it notes place and time,
 * opens nothing and asks nothing. The report is written at the next stand.
 *
 * @import {Store} from "../data/store.js"
 */

import { button } from "../elements/dom.js";
import { words } from "../words/chosen.js";

const w = words.mark;
/** Two taps in this time are one mark. */
const ONE_MS = 2_000;

/**
 * @param {HTMLElement} root
 * @param {Store} store
 * @param {boolean} allowed
 */
export function drawMark(root, store, allowed) {
  if (!allowed) return root.replaceChildren();
  if (root.childElementCount > 0) return;
  let last = -Infinity;
  const one = button(w.here, () => {
    const now = performance.now();
    if (now - last < ONE_MS) return;
    last = now;
    one.classList.add("pressed");
    store.act.markHere().then(() => say(w.marked), () => say(w.notMarked));
  }, "mark-here");
  /** @param {string} text */
  function say(text) {
    one.textContent = text;
    setTimeout(() => {
      one.textContent = w.here;
      one.classList.remove("pressed");
    }, ONE_MS);
  }
  root.replaceChildren(one);
}
