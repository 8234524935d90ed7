/**
 * What to do when it slides, overruns or stops short. Fixed words; read at a stand,
 * remembered on the move.
 *
 * @import {Store} from "../data/store.js"
 */

import { fill, h } from "../elements/dom.js";
import { words } from "../words/chosen.js";

const w = words.slide;

/**
 * @param {HTMLElement} root
 * @param {Store} store
 * @returns {() => void}
 */
export function mount(root, store) {
  const train = store.get().view?.train;
  fill(
    root,
    h(
      "section",
      { className: "slide", "aria-label": w.title },
      h("h1", {}, w.title),
      // The step is named by the train type: sand comes with another one on other units.
      h("p", { className: "w4" }, train?.slide_words || w.w4),
      h("p", { className: "note" }, train ? `${train.type_name}: ${w.signed}.` : w.noTrain),
      h("h2", {}, w.overrun),
      h("p", { className: "w10" }, words.report.w10),
      h("h2", {}, w.short),
      h("p", { className: "w10" }, words.report.w10short),
      h("p", {}, h("a", { href: "#brief", className: "control" }, w.back)),
    ),
  );
  return () => {};
}

/**
 * The words alone, nothing else on the page; a touch on them goes back.
 * @param {string} text
 * @returns {(root: HTMLElement) => () => void}
 */
export function alone(text) {
  return (root) => {
    const back = { type: "button", className: "alone", onclick: () => history.back() };
    fill(root, h("h1", { className: "bare" }, h("button", back, text)));
    return () => {};
  };
}
