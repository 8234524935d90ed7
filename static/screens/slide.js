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
      h("p", { className: "w4" }, w.parted(train?.slide_words?.trim() || w.w4)),
      h("p", { className: "own" }, w.companyFirst),
      h("p", { className: "note" }, noteOf(train)),
      h("h2", {}, w.overrun),
      h("p", { className: "w10" }, words.report.w10),
      h("h2", {}, w.short),
      h("p", { className: "w10" }, words.report.w10short),
      h("p", {}, h("a", { href: "#brief", className: "control" }, w.back)),
    ),
  );
  return () => {};
}

/** @param {import("../core/types.js").Train | null | undefined} train */
function noteOf(train) {
  if (!train) return w.noTrain;
  return train.slide_words?.trim() ? `${train.type_name}: ${w.signed}.` : `${train.type_name}: ${w.unsigned}`;
}

/**
 * The words alone, nothing else on the page and nothing to touch: a finger that rests there
 * must not take them away. The tablet's own way back leads away, and so does the next stand
 * after the train has moved.
 * @param {() => string} text
 * @returns {(root: HTMLElement) => () => void}
 */
export function alone(text) {
  return (root) => {
    fill(root, h("h1", { className: "alone" }, text()));
    return () => {};
  };
}
