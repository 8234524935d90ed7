/**
 * Where it was. Position proposes one place, at the stand at which the report was begun, if it is
 * sure; else the driver is asked, by one tap. Nothing is taken from the trip alone.
 *
 * @import {Store} from "../data/store.js"
 * @import {Base, Draft} from "../core/types.js"
 * @import {Spot, Station} from "../core/where.js"
 * @import {Child} from "../elements/dom.js"
 * @typedef {(change: Partial<Draft>, again?: boolean) => void} Set
 */

import { whereWords } from "../core/report.js";
import { agrees, nearest, reportOf, stationsOf, tileWords } from "../core/where.js";
import { button, h } from "../elements/dom.js";
import { words } from "../words/chosen.js";

const w = words.report;
/** A report whose time is set further back than this is about another place. */
export const SAME_STAND_MS = 120_000;
/** Nobody has said where. */
export const NOWHERE = { target: null, place: "", at_m: null, position: null, placed: null };

/**
 * @param {Store} store
 * @param {Draft} draft begun at this stand
 * @returns {Draft} with its place, if position is sure of one
 */
export function located(store, draft) {
  const { view } = store.get();
  const moved = Math.abs(draft.observedAt - draft.openedAt) > SAME_STAND_MS;
  if (!view || draft.placed || moved || draft.direction !== view.direction.key || draft.route !== view.base.route.key) return draft;
  const where = store.act.where();
  const at_m = where?.at == null ? null : Math.round(where.at);
  if (!where?.spot) return { ...draft, at_m };
  const { distance_unit } = view.base.route;
  return { ...draft, ...reportOf(where.spot, distance_unit, words), at_m, placed: "position" };
}

/**
 * @param {Base} base
 * @param {Draft} draft
 * @param {Spot} spot as the driver chose it
 * @returns {Partial<Draft>} without the position where that says something else
 */
function chosen(base, draft, spot) {
  const sign = base.directions.find((one) => one.key === draft.direction)?.sign ?? 1;
  const same = draft.at_m !== null && agrees(spot, sign * draft.at_m);
  const kept = same ? {} : { at_m: null, position: null };
  return { ...reportOf({ ...spot, before: null }, base.route.distance_unit, words), ...kept, placed: "driver" };
}

/**
 * What the driver most likely means, the likeliest first: by the report's own place, else by
 * where the train is now.
 * @param {Store} store
 * @param {Draft} draft
 * @returns {Spot[]}
 */
function likely(store, draft) {
  const base = baseOf(store, draft);
  if (!base || !draft.direction) return [];
  const sign = base.directions.find((one) => one.key === draft.direction)?.sign ?? 1;
  if (draft.at_m !== null) return nearest(stationsOf(base, draft.direction), sign * draft.at_m);
  const { view } = store.get();
  return view && view.direction.key === draft.direction ? (store.act.where()?.near ?? []) : [];
}

/**
 * @param {Store} store
 * @param {Draft} draft
 */
function baseOf(store, draft) {
  const base = store.get().pack?.base ?? null;
  return base?.route.key === draft.route ? base : null;
}

/**
 * The part of the form: what is known, and how to change it.
 * @param {Store} store
 * @param {Draft} draft
 * @param {Set} set
 * @returns {Child}
 */
export function placePart(store, draft, set) {
  const base = baseOf(store, draft);
  const pick = (/** @type {Partial<Draft>} */ change) => set(change, true);
  const own = [
    base && tiles(base, store, draft, pick),
    base && stops(base, store, draft, pick),
    text("place-text", base ? w.placeText : w.placeOnly, draft.place, 200, (place) => set(inWords(draft, place))),
  ];
  return h("fieldset", { className: "place-part", name: "place" },
    h("legend", {}, w.place),
    draft.placed ? h("p", { className: "place-now" }, whereWords(draft, base, words)) : null,
    draft.placed ? h("details", { className: "rest" }, h("summary", {}, w.anotherPlace), ...own) : h("div", {}, ...own));
}

/**
 * @param {Draft} draft as it was before a word was typed
 * @param {string} place
 * @returns {Partial<Draft>}
 */
function inWords(draft, place) {
  if (place.trim()) return { place, placed: "driver" };
  // What stood there is taken out: only a stop says where it was without words.
  return draft.target && !draft.place ? { place } : { place, target: null, placed: null };
}

/**
 * Asked when the report is saved and nobody has said where: one tap says it and saves.
 * @param {Store} store
 * @param {Draft} draft
 * @param {(change: Partial<Draft>) => void} answer
 * @param {() => void} back
 * @returns {Child[]}
 */
export function placeQuestion(store, draft, answer, back) {
  const base = baseOf(store, draft);
  const field = text("place-asked", base ? w.placeText : w.placeOnly, draft.place, 200, () => {});
  const input = field.querySelector("input");
  const typed = () => {
    const place = input?.value.trim() ?? "";
    if (place) answer({ place, target: null, placed: "driver" });
    else input?.focus();
  };
  return [
    h("h1", { className: "asked" }, w.asked),
    h("p", {}, store.get().view ? w.notSure : w.noTrip),
    base && tiles(base, store, draft, answer),
    base && stops(base, store, draft, answer),
    h("div", { className: "own-place" }, field, button(w.thisPlace, typed)),
    h("div", { className: "steps" },
      button(w.placeUnknown, () => answer({ target: null, place: "", placed: "driver" }), "quiet"),
      button(w.backToForm, back, "quiet")),
  ];
}

/**
 * @param {Base} base
 * @param {Store} store
 * @param {Draft} draft
 * @param {(change: Partial<Draft>) => void} pick
 */
function tiles(base, store, draft, pick) {
  const spots = likely(store, draft);
  if (spots.length === 0) return null;
  return h("div", { className: "tiles" }, ...spots.map((spot) =>
    button(tileWords(spot, words), () => pick(chosen(base, draft, spot)), "tile")));
}

/**
 * Any stop of the direction, for who is far from where it was.
 * @param {Base} base
 * @param {Store} store
 * @param {Draft} draft
 * @param {(change: Partial<Draft>) => void} pick
 */
function stops(base, store, draft, pick) {
  const stations = stationsOf(base, draft.direction);
  const spotOf = (/** @type {Station} */ station) => /** @type {Spot} */ ({ kind: "at", station, next: null, before: null });
  const select = h("select", { id: "place", "data-key": "place" },
    h("option", { value: "" }, w.chooseStop),
    ...stations.map((one, i) => h("option", { value: String(i), selected: one.target !== null && one.target === draft.target && !draft.place }, tileWords(spotOf(one), words))));
  select.addEventListener("change", () => {
    if (select.value !== "") pick(chosen(base, draft, spotOf(stations[Number(select.value)])));
  });
  return h("div", { className: "field" }, h("label", { for: "place" }, likely(store, draft).length > 0 ? w.whichStop : w.aStop), select);
}

/**
 * @param {string} id
 * @param {string} label
 * @param {string} value
 * @param {number} most
 * @param {(value: string) => void} change
 */
export function text(id, label, value, most, change) {
  const input = h("input", { type: "text", id, name: id, value, maxLength: most, autocomplete: "off" });
  input.addEventListener("input", () => change(input.value));
  return h("div", { className: "field" }, h("label", { for: id }, label), input);
}
