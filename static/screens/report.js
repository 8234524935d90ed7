/**
 * The report: the call comes first, the form second, and saving never claims that the
 * signaller knows. Every touch is kept, so a tablet that dies loses nothing.
 *
 * @import {Store} from "../data/store.js"
 * @import {Draft, Found} from "../core/types.js"
 * @import {Child} from "../elements/dom.js"
 */

import { timeOfDay, whenWords } from "../core/age.js";
import { HAPPENED, sayWords, tellOrDecide } from "../core/report.js";
import { button, fill, h, radios, redraw, tick } from "../elements/dom.js";
import { words } from "../words/chosen.js";
import { placeFields, restFields } from "./report-fields.js";
import { sealPart } from "./seal.js";

const w = words.report;
/** A draft younger than this needs no reminder that it is one. */
const FRESH_MS = 60_000;
/** The second half of a double tap on Save must not take W7 away before it is read. */
const DOUBLE_TAP_MS = 500;

/**
 * @param {HTMLElement} root
 * @param {Store} store
 * @returns {() => void}
 */
export function mount(root, store) {
  const page = h("section", { className: "report", "aria-label": w.title });
  root.replaceChildren(page, sealPart(store));
  let draft = store.act.draft();
  const call = h("div", { className: "first" });
  const message = h("p", { className: "message", role: "alert" });
  const rescue = h("div", { className: "rescue" });

  /** @param {Partial<Draft>} change @param {boolean} [again] draw the form anew */
  function set(change, again = false) {
    draft = { ...draft, ...change };
    store.act.saveDraft(draft).catch(() => fill(message, w.notSaved));
    fill(message);
    fill(rescue);
    drawCall(call, store, draft, set);
    if (again) drawForm();
  }

  function drawForm() {
    redraw(page, () => form({ store, draft, set, save, call, message, rescue, afresh }));
    drawCall(call, store, draft, set);
  }

  async function afresh() {
    await store.act.dropDraft();
    draft = store.act.draft();
    drawForm();
  }

  async function save() {
    if (draft.found === null) return fill(message, w.needFound);
    // Shown at once, so that nobody taps twice; a second tap would find no draft anyway.
    page.querySelectorAll("button").forEach((one) => (one.disabled = true));
    fill(message, w.saving);
    try {
      if (await store.act.saveReport(draft)) drawSaved(page, store, draft, drawAnother);
    } catch (error) {
      console.error("report not saved", error);
      page.querySelectorAll("button").forEach((one) => (one.disabled = false));
      fill(message, w.notSaved);
      fill(rescue, ...say(store, draft), draft.text ? h("p", { className: "say" }, draft.text) : null,
        button(words.strip.copy, (event) => copyWords(rescue, event.currentTarget)));
    }
  }

  function drawAnother() {
    draft = store.act.draft();
    drawForm();
  }

  drawForm();
  return () => {};
}

/**
 * @typedef {{store: Store, draft: Draft, set: (change: Partial<Draft>, again?: boolean) => void,
 *   save: () => void, call: HTMLElement, message: HTMLElement, rescue: HTMLElement,
 *   afresh: () => void}} Form
 * @param {Form} form
 * @returns {Child[]}
 */
function form({ store, draft, set, save, call, message, rescue, afresh }) {
  const base = store.get().pack?.base ?? null;
  const old = Date.now() - draft.openedAt > FRESH_MS;
  return [
    h("h1", { className: "unseen" }, w.title),
    call,
    radios({
      name: "found",
      legend: w.found,
      choices: /** @type {Found[]} */ (["good", "expected", "reportable"]).map((value) => ({
        value,
        words: w.foundWords[value],
        help: w.foundHelp[value],
      })),
      value: draft.found,
      pick: (value) => set({ found: /** @type {Found} */ (value) }),
    }),
    // Below the question: what is asked stands in the same place whenever it was begun.
    old || draft.supersedes || draft.edits
      ? h("div", { className: "notice" },
          h("p", {}, draft.edits ? w.editing : draft.supersedes ? w.correction : w.draftFrom(whenWords(draft.openedAt, Date.now()))),
          button(w.afresh, afresh, "quiet"))
      : null,
    h("fieldset", { className: "choices", name: "happened" }, h("legend", {}, w.happened),
      ...HAPPENED.map((word) => tick(w.happenedWords[word], draft.happened.includes(word), (on) => {
        const others = draft.happened.filter((one) => one !== word);
        draft.happened = on ? [...others, word] : others;
        set({ happened: draft.happened });
        if (on && word === "overrun") location.hash = "#overrun";
        if (on && word === "stopped short") location.hash = "#short";
      }))),
    ...placeFields(base, draft, set),
    ...restFields(base, draft, set),
    h("div", { className: "save" }, message, rescue, button(w.save, save, "confirm")),
  ];
}

/**
 * @param {HTMLElement} call
 * @param {Store} store
 * @param {Draft} draft
 * @param {(change: Partial<Draft>, again?: boolean) => void} set
 */
function drawCall(call, store, draft, set) {
  const told = draft.toldAt === null
    ? button(w.told, () => set({ toldAt: Date.now() }))
    : button(w.toldAt(timeOfDay(draft.toldAt)), () => set({ toldAt: null }), "pressed");
  fill(call, h("h2", {}, w.call), h("div", {}, ...say(store, draft)), told);
}

/**
 * @param {Store} store
 * @param {Draft} draft
 */
function say(store, draft) {
  const { pack, view } = store.get();
  return [
    h("p", { className: "decide" }, tellOrDecide(draft) === "tell" ? w.tell : w.decide),
    h("p", { className: "say" }, `“${sayWords(draft, pack?.base ?? null, view?.trip.name ?? "", words)}”`),
  ];
}

/**
 * A report that the tablet cannot keep must leave it some other way.
 * @param {HTMLElement} rescue
 * @param {EventTarget | null} pressed
 */
async function copyWords(rescue, pressed) {
  const text = [...rescue.querySelectorAll(".say")].map((one) => one.textContent).join("\n");
  const copied = await navigator.clipboard?.writeText(text).then(() => true, () => false);
  if (pressed instanceof HTMLElement) pressed.textContent = copied ? words.strip.copied : words.strip.notCopied;
}

/**
 * @param {HTMLElement} page
 * @param {Store} store
 * @param {Draft} draft
 * @param {() => void} another
 */
function drawSaved(page, store, draft, another) {
  const since = performance.now();
  fill(
    page,
    h("h1", { className: "unseen" }, w.title),
    h("p", { className: "saved", role: "status" },
      draft.toldAt === null ? w.w7 : w.savedTold(timeOfDay(draft.toldAt))),
    h("h2", {}, w.sayThis),
    ...say(store, draft),
    button(w.another, () => performance.now() - since > DOUBLE_TAP_MS && another(), "quiet"),
    h("p", { className: "w8" }, words.frame.w8),
  );
  scrollTo(0, 0);
}
