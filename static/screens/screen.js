/**
 * How the screen is set: light, hand, language, and how large a millimetre is here.
 *
 * @import {Store, State} from "../data/store.js"
 */

import { dressed } from "../data/dress.js";
import { button, h, radios, redraw } from "../elements/dom.js";
import { LANGUAGES, words } from "../words/chosen.js";

const w = words.screen;
const LIGHTS = /** @type {const} */ (["auto", "bright", "day", "dusk", "night"]);
const EYES = ["500", "700", "900"];
/** The short side of a bank card is 53.98 mm (ISO/IEC 7810, ID-1; figure from memory). */
const CARD_MM = 53.98;
/** One touch makes the bar this much longer or shorter. */
const STEP = 1.01;

/**
 * @param {HTMLElement} root
 * @param {Store} store
 * @returns {() => void}
 */
export function mount(root, store) {
  const page = h("section", { className: "screen", "aria-label": w.title });
  root.replaceChildren(page);
  const draw = () => redraw(page, () => contents(store, draw));
  draw();
  return () => {};
}

/**
 * @param {Store} store
 * @param {() => void} draw
 */
function contents(store, draw) {
  const now = dressed();
  const dress = (/** @type {import("../data/dress.js").Dress} */ change) => {
    store.act.dress(change);
    draw();
  };
  return [
    h("h1", {}, w.title),
    radios({
      name: "theme",
      legend: w.light,
      choices: LIGHTS.map((value) => ({ value, words: w.lightWords[value], help: value === "auto" ? w.autoHelp : undefined })),
      value: now.theme,
      pick: (value) => dress({ theme: /** @type {State["theme"]} */ (value) }),
    }),
    radios({
      name: "hand",
      legend: w.hand,
      short: true,
      choices: [{ value: "left", words: w.left }, { value: "right", words: w.right }],
      value: now.hand,
      pick: (value) => dress({ hand: value === "left" ? "left" : "right" }),
    }),
    radios({
      name: "language",
      legend: w.language,
      short: true,
      choices: Object.entries(LANGUAGES).map(([value, name]) => ({ value, words: name })),
      value: words.language.code,
      pick: (language) => dress({ language }),
    }),
    words.language.unsigned ? h("p", {}, words.language.unsigned) : null,
    ...size(now, dress),
    store.get().persisted === null ? null : h("p", {}, store.get().persisted ? w.kept : w.notKept),
    h("p", {}, h("a", { href: "#brief", className: "control" }, words.slide.back)),
  ];
}

/**
 * @param {ReturnType<typeof dressed>} now
 * @param {(change: import("../data/dress.js").Dress) => void} dress
 */
function size(now, dress) {
  const bar = h("div", { className: "measure", role: "img", "aria-label": w.bar });
  bar.style.width = `${CARD_MM * now.mm}px`;
  return [
    h("h2", {}, w.size),
    h("p", {}, w.sizeHelp),
    bar,
    h(
      "div",
      { className: "steps" },
      button(w.shorter, () => dress({ mm: now.mm / STEP })),
      button(w.longer, () => dress({ mm: now.mm * STEP })),
    ),
    radios({
      name: "eye",
      legend: w.eye,
      short: true,
      choices: EYES.map((value) => ({ value, words: w.eyeFar(Number(value) / 10) })),
      value: String(now.eye),
      pick: (value) => dress({ eye: Number(value) }),
    }),
  ];
}
