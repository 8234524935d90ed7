/**
 * The parts of a report that are already filled in, and those that can wait.
 *
 * @import {Base, Draft} from "../core/types.js"
 * @import {Child} from "../elements/dom.js"
 * @typedef {(change: Partial<Draft>, again?: boolean) => void} Set
 */

import { lastTimeAt, timeOfDay } from "../core/age.js";
import { MOST_TEXT } from "../core/agreed.js";
import { STEPS, WEATHER, stepNames } from "../core/report.js";
import { h, radios, tick } from "../elements/dom.js";
import { words } from "../words/chosen.js";
import { NOWHERE, SAME_STAND_MS, text } from "./report-place.js";

const w = words.report;

/**
 * @param {Base | null} base
 * @param {Draft} draft
 * @param {Set} set
 * @returns {Child[]}
 */
export function wayAndTime(base, draft, set) {
  return [
    base && base.directions.length > 1
      ? radios({
          name: "direction",
          legend: words.report.direction,
          short: true,
          choices: base.directions.map((one) => ({ value: one.key, words: one.name })),
          value: draft.direction,
          pick: (direction) => set({ direction, ...NOWHERE }, true),
        })
      : null,
    h("div", { className: "field" }, h("label", { for: "time" }, w.time), time(draft, set)),
  ];
}

/**
 * @param {Draft} draft
 * @param {Set} set
 */
function time(draft, set) {
  const input = h("input", { type: "time", id: "time", value: timeOfDay(draft.observedAt) });
  input.addEventListener("change", () => {
    if (!input.value) return;
    const observedAt = lastTimeAt(input.value, Date.now());
    // Where the train stood when this was begun is not where it was then.
    const elsewhere = draft.placed === "position" && Math.abs(observedAt - draft.openedAt) > SAME_STAND_MS;
    set({ observedAt, ...(elsewhere ? NOWHERE : {}) }, elsewhere);
  });
  return input;
}

/**
 * @param {Base | null} base
 * @param {Draft} draft
 * @param {Set} set
 * @returns {Child[]}
 */
export function restFields(base, draft, set) {
  const sand = draft.sand_used === null ? null : draft.sand_used ? "yes" : "no";
  return [
    radios({ name: "step", legend: w.step, choices: listOf(STEPS, stepNames(base, draft, words)), value: draft.step, pick: (step) => set({ step }) }),
    radios({ name: "weather", legend: w.weather, choices: listOf(WEATHER, w.weatherWords), value: draft.weather, pick: (weather) => set({ weather }) }),
    h(
      "details",
      { className: "rest" },
      h("summary", {}, w.rest),
      radios({
        name: "sand",
        legend: w.sand,
        short: true,
        choices: [{ value: "yes", words: w.yes }, { value: "no", words: w.no }],
        value: sand,
        pick: (value) => set({ sand_used: value === "yes" }),
      }),
      tick(w.flats, draft.flats_suspected, (flats_suspected) => set({ flats_suspected })),
      tick(w.notSeen, draft.train_not_seen, (train_not_seen) => set({ train_not_seen })),
      ownWords(draft, set),
      text("name", w.name, draft.driver_name, 100, (driver_name) => set({ driver_name })),
    ),
  ];
}

/**
 * @param {string[]} values
 * @param {Record<string, string>} names
 */
function listOf(values, names) {
  return values.map((value) => ({ value, words: names[value].charAt(0).toUpperCase() + names[value].slice(1) }));
}

/**
 * @param {Draft} draft
 * @param {Set} set
 */
function ownWords(draft, set) {
  const area = h("textarea", { id: "own-words", rows: 4, maxLength: MOST_TEXT, value: draft.text });
  area.addEventListener("input", () => set({ text: area.value }));
  return h("div", { className: "field" }, h("label", { for: "own-words" }, w.text), area);
}
