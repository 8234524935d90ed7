/**
 * The Next stop card: two seconds, no touch. While the train moves this is the only page
 * and it holds no control; a company that does not allow the glance sees it dark.
 *
 * @import {Store, State} from "../data/store.js"
 * @import {CardLine} from "../core/card.js"
 */

import { timeOfDay } from "../core/age.js";
import { mayGlance, mayMark } from "../core/allowed.js";
import { cardLines } from "../core/card.js";
import { changeOf, scopeOf, shownOf } from "../core/changed.js";
import { proposedByPlace, proposedByTime } from "../core/face.js";
import { cardIndex, isBeyond } from "../core/platforms.js";
import { followLine } from "../core/trip.js";
import { stayAwake } from "../elements/awake.js";
import { button, fill, h } from "../elements/dom.js";
import { untouched } from "../elements/touch.js";
import { withProposal } from "./rail-words.js";
import { words } from "../words/chosen.js";
import { drawMark } from "./mark-here.js";
import { nextTripButton } from "./next-trip.js";

/** How much larger than its least the figure is tried, the largest first. */
const GROWN = [1.9, 1.75, 1.6, 1.45, 1.3, 1.15, 1];
/** As in the sheet: narrower is a phone. */
const WIDE = 700;

/**
 * @param {HTMLElement} root
 * @param {Store} store
 * @returns {() => void}
 */
export function mount(root, store) {
  const w1 = h("p", { className: "w1" }, words.frame.w1);
  const card = h("div", { className: "card" });
  const planned = h("p", { className: "planned" });
  const changed = h("p", { className: "changed", role: "status" });
  const place = h("p", { className: "place" });
  const hand = h("div", { className: "hand" });
  const mark = h("div", { className: "mark-only" });
  fill(root, h("section", { className: "drive", "aria-label": words.next.title },
    h("h1", { className: "unseen" }, words.next.title), w1, place, card, planned, changed, hand, mark));
  let shown = "";
  /** @type {number | null} */
  let index = null;
  let word = "";
  /** The train ran since a card was last shown at a stand. */
  let ran = false;

  /** None while the train moves, not even those that waited for a finger to go up. */
  function drawControls() {
    if (store.get().follow.motion === "moving") hand.replaceChildren();
    else drawHand(hand, store);
  }

  function draw() {
    const state = store.get();
    const moving = state.follow.motion === "moving";
    const settings = state.view?.base.settings;
    const dark = moving && !mayGlance(settings);
    document.body.classList.toggle("dark-page", dark);
    drawMark(mark, store, dark && mayMark(settings));
    if (moving) drawControls();
    else untouched(hand, drawControls);
    drawWord(place, state);
    // Frozen from 30 s before the earlier mark to the stand; without a position, nobody
    // knows how near the mark is, so nothing changes then either: only another face does.
    // Leaving a platform it has stood in, the train already shows the next stop's card.
    const { frozen: near, at, stood, face } = state.follow;
    const frozen = moving && (near || at === null || stood);
    const same = face.index === index && face.word === word;
    if (frozen && shown !== "" && same) return;
    ({ index, word } = face);
    const lines = linesOf(state);
    const foot = footOf(state);
    const change = changeOn(state);
    ran ||= moving;
    const now = JSON.stringify([lines, foot, change]);
    if (now !== shown) paint(lines, foot, change);
    shown = now;
    const row = face.index === null ? undefined : state.view?.calls[face.index];
    if (moving || !row || document.visibilityState !== "visible") return;
    const first = ran;
    ran = false;
    store.act.cardShown(row, first);
  }

  /**
   * @param {CardLine[]} lines
   * @param {string} foot
   * @param {string} change
   */
  function paint(lines, foot, change) {
    const state = store.get();
    fill(card, ...drawLines(lines));
    fit(card);
    fill(changed, change);
    fill(planned, foot);
    planned.classList.toggle("stale", state.view?.w9 != null && foot !== "");
  }

  draw();
  const stop = store.subscribe(draw);
  // Its letters came, or the tablet was turned: the boxes are others.
  const again = () => fit(card);
  document.fonts?.ready.then(again);
  addEventListener("resize", again);
  const letSleep = stayAwake((asleep) => {
    hand.dataset.asleep = asleep ? "yes" : "";
    draw();
  });
  return () => {
    stop();
    letSleep();
    removeEventListener("resize", again);
    document.body.classList.remove("dark-page");
  };
}

/**
 * @param {State} state
 * @returns {CardLine[]}
 */
export function linesOf({ view, follow }) {
  /** @param {string} main @returns {CardLine[]} */
  const only = (main) => [{ kind: "only", lead: "", main, tail: "" }];
  if (!view) return only(words.next.notPrepared);
  if (follow.face.index === null) return [{ kind: "only", lead: "", main: words.card.w6, tail: "", shape: "none" }];
  const row = view.calls[follow.face.index];
  if (!row) return only(words.next.ended);
  return cardLines(view.base, row, view.train, words.card);
}

/**
 * What changed on this card since it was last shown at a stand.
 * @param {State} state
 */
export function changeOn({ view, prep, shownCards, follow }) {
  const row = follow.face.index === null ? undefined : view?.calls[follow.face.index];
  if (!view || !prep || !row) return "";
  const w = words.card.changed;
  const change = changeOf(shownCards, { scope: scopeOf(prep), key: row.target.key, shown: shownOf(view, row) }, w);
  return change ? w.since(change.since, change.what) : "";
}

/**
 * How sure the stop is: a word and a shape of its own, always in the same place.
 * @param {HTMLElement} place
 * @param {State} state
 */
function drawWord(place, { view, follow }) {
  const word = view ? follow.face.word : "";
  if (place.dataset.word === word) return;
  place.dataset.word = word;
  fill(place, view && h("span", { className: "shape", "aria-hidden": "true" }), view && words.frame.placeWords[follow.face.word]);
}

/** @param {State} state */
function footOf({ view, follow }) {
  const row = follow.face.index === null ? null : view?.calls[follow.face.index];
  if (!view || !view.train || !row) return "";
  // Warned worse than the driver chose: this stop alone is planned with that. The card may
  // have had no room left for the reason, so it stands here.
  if (row.warned && row.state > view.state) {
    return words.frame.plannedWarned(words.language.within(view.base.states[row.state].name), row.warned.when);
  }
  if (view.off) return "";
  const name = words.language.within(view.stateName);
  if (view.w9 === null) return withProposal(view, words.frame.planned(name));
  return view.changed ? words.frame.w9train(name) : words.frame.w9(view.w9, name);
}

/**
 * Reasons share one box: it has its height whether there is one, two or none.
 * @param {CardLine[]} lines
 */
function drawLines(lines) {
  const reasons = lines.filter((one) => one.kind === "why").map(drawLine);
  const others = lines.filter((one) => one.kind !== "why").map(drawLine);
  return [...others, reasons.length > 0 && h("div", { className: "whys" }, ...reasons)];
}

/** @param {CardLine} line */
function drawLine({ kind, lead, main, tail, shape, speeds }) {
  return h(
    "p",
    { className: `line ${kind}`, "data-shape": shape },
    lead && h("span", { className: "lead" }, lead),
    lead && " ",
    main && h("strong", { className: "main" }, ...quarters(main)),
    tail && " ",
    tail && h("span", { className: "tail" }, tail),
    ...(speeds ?? []).flatMap(drawSpeed),
  );
}

/**
 * Speeds in a column of their own, places in another: two numbers side by side would be read
 * as one, or as each other.
 * @param {{speed: number, words: string}} one
 */
function drawSpeed({ speed, words: place }) {
  return [h("strong", { className: "speed" }, String(speed)), " ", h("span", { className: "by" }, ...quarters(place)), " "];
}

/**
 * A quarter is the difference between two posts, so its small figures are set larger.
 * @param {string} text
 */
function quarters(text) {
  return text.split(/([¼½¾])/).map((part) => (/[¼½¾]/.test(part) ? h("span", { className: "quarter" }, part) : part));
}

/**
 * A line too long for its box is set smaller, and the figure as large as its box allows; the
 * boxes themselves never move. If even that does not do, they grow: words are never cut off.
 * @param {Element} card
 */
function fit(card) {
  card.classList.remove("over");
  for (const one of card.children) one.classList.remove("long");
  const figure = /** @type {HTMLElement | null} */ (card.querySelector(".line.begin"));
  figure?.style.removeProperty("--grown");
  // What letters reach below their line is no line more.
  const slack = Number.parseFloat(getComputedStyle(card).fontSize) / 3;
  const full = () => [...card.children].filter((one) =>
    one.scrollHeight > one.clientHeight + slack || one.scrollWidth > one.clientWidth);
  for (const one of full()) one.classList.add("long");
  card.classList.toggle("over", full().length > 0);
  // A phone closes its boxes up at a stand: what grew there would not fit on the move.
  if (!figure || figure.matches(".long") || card.matches(".over") || innerWidth < WIDE) return;
  GROWN.some((grown) => {
    figure.style.setProperty("--grown", String(grown));
    return figure.scrollHeight <= figure.clientHeight && figure.scrollWidth <= figure.clientWidth;
  });
}

/**
 * What may be touched at a stand.
 * @param {HTMLElement} hand
 * @param {Store} store
 */
function drawHand(hand, store) {
  const { view, duty, follow, position, touched, marks, unkept, unkeptInUse } = store.get();
  const before = hand.dataset.drawn;
  const now = JSON.stringify([view?.trip.key, view?.off, view?.calls.map((row) => row.target.key), duty, follow.index, follow.motion, follow.stood, follow.past, follow.hand, follow.doubtful, follow.doubt, follow.face, question(store.get()), position, touched, marks?.length, unkept, hand.dataset.asleep]);
  if (before === now && hand.childElementCount > 0) return;
  hand.dataset.drawn = now;
  if (!view) {
    fill(hand);
    return;
  }
  const at = cardIndex(follow);
  const name = (/** @type {number} */ index) => view.calls[index]?.target.name;
  const on = at + 1 < view.calls.length ? words.next.on(name(at + 1)) : words.next.onToEnd;
  const asked = question(store.get());
  fill(
    hand,
    h("p", { className: "note" }, noteOf(store.get()), hand.dataset.asleep ? ` ${words.next.screenMaySleep}` : ""),
    unkept ? h("p", { className: "note", role: "alert" }, unkeptInUse ? words.strip.unkeptInUse : words.strip.unkept) : null,
    marks?.length ? h("p", { className: "note" }, words.mark.waits(timeOfDay(marks[0].observedAt))) : null,
    touched ? h("p", { className: "w8" }, words.frame.w8) : null,
    h(
      "div",
      { className: "steps" },
      asked === null ? null : button(words.next.itIs(name(asked)), () => store.act.step(asked), "asked"),
      at > 0 ? button(words.next.back(name(at - 1)), () => store.act.step(at - 1)) : h("span", {}),
      at < view.calls.length ? button(on, () => store.act.step(at + 1)) : nextTripButton(store) || h("span", {}),
    ),
    view.off ? h("div", { className: "steps" }, button(words.prepare.on, () => store.act.answer({ off: null }))) : null,
  );
}

/**
 * Which stop to ask about when nobody knows which is next: by the place, else by the
 * timetable. The driver answers; nothing is taken by itself.
 * @param {State} state
 * @returns {number | null}
 */
function question({ view, follow, clockOffset }) {
  if (!view || (follow.face.index !== null && follow.face.word === "sure")) return null;
  const now = new Date(Date.now() + (clockOffset ?? 0));
  const asked =
    proposedByPlace(follow, followLine(view)) ??
    proposedByTime(view.trip.calls, now.getHours() * 60 + now.getMinutes());
  return asked !== null && (follow.doubtful || asked !== follow.face.index) && view.calls[asked] ? asked : null;
}

/** @param {State} state */
function noteOf({ view, follow, position }) {
  const here = view?.calls[follow.index]?.target.name;
  if (follow.doubt !== null) return `${words.next.doubtWords[follow.doubt](here ?? "")} ${words.next.ask}`;
  if (position === "off") return words.next.positionOff;
  if (follow.motion === "unknown") return words.next.positionUnknown;
  if (follow.face.index === null) return `${words.next.notFound} ${words.next.ask}`;
  if (follow.stood && here) return words.next.stood(here);
  if (view && here && follow.past && !follow.hand) {
    return isBeyond(follow, followLine(view)) ? words.next.beyond(here) : words.next.perhapsBeyond(here);
  }
  const before = view?.calls[follow.index - 1]?.target.name;
  if (follow.doubtful && before) return `${words.next.doubtWords.perhaps(before)} ${words.next.confirm}`;
  if (follow.perhaps && here) return words.next.perhaps(here);
  return mayGlance(view?.base.settings) ? words.next.glance : words.next.standOnly;
}
