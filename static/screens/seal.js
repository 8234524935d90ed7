/**
 * After an incident, at a stand: seal what this tablet shows. The call comes first, one
 * confirm follows, and it never claims that anybody was told.
 *
 * @import {Store} from "../data/store.js"
 */

import { timeOfDay } from "../core/age.js";
import { textOf } from "../core/card.js";
import { button, fill, h } from "../elements/dom.js";
import { words } from "../words/chosen.js";
import { changeOn, linesOf } from "./next-stop.js";

const w = words.seal;
/** The second half of a double tap must not confirm what the first half only opened. */
const DOUBLE_TAP_MS = 500;

/**
 * @param {Store} store
 * @returns {HTMLElement}
 */
export function sealPart(store) {
  const part = h("section", { className: "seal", "aria-label": w.title });

  /** @param {string} [said] */
  function closed(said) {
    fill(part, said ? h("p", { className: "message", role: "status" }, said) : null, button(w.open, opened, "quiet"));
  }

  function opened() {
    const since = performance.now();
    const choice = h("div", { className: "steps" },
      button(w.seal, () => performance.now() - since > DOUBLE_TAP_MS && seal()),
      button(w.not, () => closed(), "quiet"));
    fill(part, h("p", {}, h("strong", {}, w.callFirst)), h("p", {}, w.what), choice);
    // The part stands last on the page: what it opens would lie under the edge.
    choice.scrollIntoView({ block: "center" });
  }

  async function seal() {
    part.querySelectorAll("button").forEach((one) => (one.disabled = true));
    const now = Date.now();
    const { view, follow } = store.get();
    const shown = [...linesOf(store.get()).map(textOf), changeOn(store.get())].filter(Boolean);
    try {
      await store.act.seal([...(view ? [words.frame.placeWords[follow.face.word]] : []), ...shown], now);
      closed(w.done(timeOfDay(now)));
    } catch (error) {
      console.error("not sealed", error);
      closed(w.notDone);
    }
  }

  closed();
  return part;
}
