/**
 * The page on which a tablet is made known to the depot.
 *
 * @import {Store} from "../data/store.js"
 */

import { button, h, redraw } from "../elements/dom.js";
import { untouched } from "../elements/touch.js";
import { words } from "../words/chosen.js";

const w = words.enrol;
const SAID = { done: w.answers.done, wrong: w.answers.wrong, other: w.answers.other, wait: w.answers.wait, silent: w.answers.silent };

/**
 * @param {HTMLElement} root
 * @param {Store} store
 * @returns {() => void}
 */
export function mount(root, store) {
  const local = { code: "", said: "" };
  const page = h("section", { className: "enrol", "aria-label": w.title });
  root.replaceChildren(page);
  const draw = () => redraw(page, () => contents(store, local, press));
  async function press() {
    if (local.said === w.busy || local.code.trim() === "") return;
    local.said = w.busy;
    draw();
    local.said = SAID[await store.act.enrol(local.code)];
    draw();
  }
  draw();
  return store.subscribe((state, before) => {
    if (state.tablet !== before.tablet) untouched(page, draw);
  });
}

/**
 * @param {Store} store
 * @param {{code: string, said: string}} local
 * @param {() => void} press
 */
function contents(store, local, press) {
  const { tablet } = store.get();
  const good = tablet?.enrolled && tablet.valid;
  return [
    h("h1", {}, w.title),
    good ? h("p", {}, w.known(tablet.label ?? "")) : h("p", {}, w.ask),
    good ? null : codeField(local, press),
    h("p", { role: "status", className: "said" }, local.said),
    h("p", {}, h("a", { href: "#brief", className: "control" }, words.slide.back)),
  ];
}

/**
 * @param {{code: string}} local
 * @param {() => void} press
 */
function codeField(local, press) {
  const input = h("input", {
    id: "enrol-code", "data-key": "enrol-code", type: "text", value: local.code, maxlength: 24,
    autocomplete: "off", autocapitalize: "characters", spellcheck: "false", enterkeyhint: "go",
  });
  input.addEventListener("input", () => (local.code = input.value));
  input.addEventListener("keydown", (event) => event.key === "Enter" && press());
  return h(
    "div",
    { className: "field" },
    h("label", { for: "enrol-code" }, w.code),
    input,
    button(w.enrol, press, "confirm"),
  );
}
