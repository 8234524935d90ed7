/**
 * The report: the call comes first, the form second, and saving never claims that the
 * signaller knows. Every touch is kept, so a tablet that dies loses nothing.
 *
 * @import {Store} from "../data/store.js"
 * @import {Draft, Found} from "../core/types.js"
 * @import {Child} from "../elements/dom.js"
 */

import { timeOfDay, whenWords } from "../core/age.js";
import { HAPPENED, sayWords, tellOrDecide, toldAfter } from "../core/report.js";
import { DraftGone } from "../data/draft-rows.js";
import { button, fill, h, radios, redraw, tick } from "../elements/dom.js";
import { words } from "../words/chosen.js";
import { restFields, wayAndTime } from "./report-fields.js";
import { located, placePart, placeQuestion } from "./report-place.js";
import { sealPart } from "./seal.js";

const w = words.report;
/** A draft younger than this needs no reminder that it is one. */
const FRESH_MS = 60_000;
/** The second half of a double tap on Save must not take W7 away before it is read. */
const DOUBLE_TAP_MS = 500;

/**
 * A save goes on although its page was left: whoever comes back finds it, not a form to type into.
 * @typedef {{draft: Draft, done: Promise<boolean>}} Save
 * @type {Save | null}
 */
let underWay = null;

/**
 * @param {HTMLElement} root
 * @param {Store} store
 * @returns {() => void}
 */
export function mount(root, store) {
  const page = h("section", { className: "report", "aria-label": w.title });
  root.replaceChildren(page, sealPart(store));
  const since = Date.now();
  let draft = underWay?.draft ?? here(store.act.draft());
  let touched = false;
  const call = h("div", { className: "first" });
  const message = h("p", { className: "message", role: "alert" });
  const rescue = h("div", { className: "rescue" });
  const others = h("div", { className: "others" });

  /** @param {Partial<Draft>} change @param {boolean} [again] draw the form again */
  function set(change, again = false) {
    touched = true;
    draft = here({ ...draft, ...change });
    keep();
    fill(message);
    fill(rescue);
    drawCall(call, store, draft, set);
    if (again) drawForm();
  }

  /**
   * The page ends when the train moves: what was begun since it was opened was begun here.
   * @param {Draft} one
   */
  function here(one) {
    return one.openedAt >= since && !one.supersedes && !one.edits ? located(store, one) : one;
  }

  function keep() {
    store.act.saveDraft(draft).catch((error) => (error instanceof DraftGone ? refuse(error) : fill(message, w.notSaved)));
  }

  function drawForm() {
    redraw(page, () => form({ store, draft, set, save, call, message, rescue, others, afresh }));
    drawCall(call, store, draft, set);
    drawOthers();
  }

  function drawOthers() {
    const begun = store.get().drafts.filter((one) => one.id !== draft.id);
    fill(others, ...begun.map((one) => h("div", { className: "notice" },
      h("p", {}, w.alsoBegun(whenWords(one.openedAt, Date.now()), one.found ? w.foundWords[one.found] : "")),
      button(w.openIt, () => open(store.act.takeUp(one)), "quiet"))));
  }

  /** @param {Draft} other */
  function open(other) {
    draft = here(other);
    fill(message);
    fill(rescue);
    drawForm();
  }

  async function afresh() {
    await store.act.dropDraft();
    open(store.act.draft());
  }

  async function save() {
    if (draft.found === null) return fill(message, w.needFound);
    draft = here(draft);
    if (!draft.placed) return askPlace();
    underWay ??= { draft, done: store.act.saveReport(draft) };
    await ended(underWay);
  }

  function askPlace() {
    fill(page, ...placeQuestion(store, draft, (change) => {
      set(change, true);
      void save();
    }, drawForm));
    scrollTo(0, 0);
  }

  /**
   * Locked at once: a word typed now would be in no report, and a second tap finds no draft.
   * @param {Save} saved
   */
  async function ended(saved) {
    lock(page, true);
    fill(message, w.saving);
    try {
      await saved.done;
      if (page.isConnected) drawSaved(page, store, saved.draft, () => open(store.act.draft()));
    } catch (error) {
      console.error("report not saved", error);
      lock(page, false);
      if (error instanceof DraftGone) return refuse(error);
      fill(message, w.notSaved);
      fill(rescue, ...say(store, draft), draft.text ? h("p", { className: "say" }, draft.text) : null,
        button(words.strip.copy, (event) => copyWords(rescue, event.currentTarget)));
    } finally {
      if (underWay === saved) underWay = null;
    }
  }

  /**
   * What stands here belongs to no draft any more. It stays on the screen until it is made one of
   * its own: of a report that is saved, a correction.
   * @param {DraftGone} gone
   */
  function refuse({ why }) {
    const own = () => {
      const supersedes = why === "saved" ? draft.id : draft.supersedes;
      open({ ...draft, id: crypto.randomUUID(), supersedes });
      keep();
    };
    fill(message, w.goneWords[why]);
    fill(rescue, button(w.goneOnWords[why], own));
  }

  // Another window took this draft up: two at one draft would undo each other's words.
  const stop = store.subscribe(({ takenUp, drafts }, before) => {
    if (takenUp && takenUp === draft.id && before.takenUp !== takenUp && !underWay) {
      fill(page, h("p", { className: "notice", role: "status" }, w.takenUp),
        h("div", { className: "steps" },
          button(w.takeBack, () => takeBack(draft.id)), button(w.another, () => open(store.act.draft()), "quiet")));
    } else if (drafts !== before.drafts) drawOthers();
  });

  /** @param {string} id */
  async function takeBack(id) {
    await store.act.refreshDrafts();
    const there = store.get().drafts.find((one) => one.id === id);
    open(there ? store.act.takeUp(there) : store.act.draft());
  }

  drawForm();
  if (underWay) void ended(underWay);
  // Saved or thrown away in another window since this one had it in hand.
  else {
    store.act.refreshDrafts()
      .then((gone) => gone && !touched && !underWay && open(store.act.draft()))
      .catch((error) => console.error("drafts not read", error));
  }
  return stop;
}

/**
 * @param {HTMLElement} page
 * @param {boolean} on
 */
function lock(page, on) {
  for (const one of page.querySelectorAll("button, input, select, textarea")) /** @type {HTMLInputElement} */ (one).disabled = on;
}

/**
 * @typedef {{store: Store, draft: Draft, set: (change: Partial<Draft>, again?: boolean) => void,
 *   save: () => void, call: HTMLElement, message: HTMLElement, rescue: HTMLElement,
 *   others: HTMLElement, afresh: () => void}} Form
 * @param {Form} form
 * @returns {Child[]}
 */
function form({ store, draft, set, save, call, message, rescue, others, afresh }) {
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
    others,
    h("fieldset", { className: "choices", name: "happened" }, h("legend", {}, w.happened),
      ...HAPPENED.map((word) => tick(w.happenedWords[word], draft.happened.includes(word), (on) => {
        const others = draft.happened.filter((one) => one !== word);
        draft.happened = on ? [...others, word] : others;
        set({ happened: draft.happened });
        if (on && word === "overrun") location.hash = "#overrun";
        if (on && word === "stopped short") location.hash = "#short";
      }))),
    placePart(store, draft, set),
    ...wayAndTime(base, draft, set),
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
  const message = h("p", { role: "status" });
  const saved = h("p", { className: "saved", role: "status", tabIndex: -1 },
    draft.toldAt === null ? w.w7 : w.savedTold(timeOfDay(draft.toldAt)));
  const tell = async () => {
    if (performance.now() - since <= DOUBLE_TAP_MS) return;
    const told = toldAfter(draft, Date.now());
    lock(page, true);
    try {
      await store.act.saveReport(told);
      if (page.isConnected) drawSaved(page, store, told, another).focus();
    } catch (error) {
      console.error("report not saved", error);
      lock(page, false);
      fill(message, w.notSaved);
    }
  };
  fill(
    page,
    h("h1", { className: "unseen" }, w.title),
    saved,
    h("h2", {}, w.sayThis),
    ...say(store, draft),
    draft.toldAt === null && !draft.edits ? button(w.told, tell) : null,
    message,
    button(w.another, () => performance.now() - since > DOUBLE_TAP_MS && another(), "quiet"),
    h("p", { className: "w8" }, words.frame.w8),
  );
  scrollTo(0, 0);
  return saved;
}
