/**
 * What may be set about a trip at a stand: advice off, another stopping pattern, the duty.
 *
 * @import {Store} from "../data/store.js"
 * @import {Base, TripView} from "../core/types.js"
 * @import {Duty} from "../core/duty.js"
 */

import { OTHER_PARTS } from "../core/duty.js";
import { CALL_CHANGES, OFF_REASONS, extraChoices } from "../core/pattern.js";
import { button, h, radios, tick } from "../elements/dom.js";
import { words } from "../words/chosen.js";

const p = words.prepare;

/**
 * @param {Store} store
 * @param {Set<string>} open parts the driver has opened
 */
export function tripParts(store, open) {
  const { view, pack } = store.get();
  return [
    view ? folded("pattern", p.pattern, open, patternPart(store, view)) : null,
    pack ? folded("duty", p.duty, open, dutyPart(store, pack.base)) : null,
  ];
}

/**
 * The way to switch the advice off, a quiet entry at the end. Once it is open one tap on a
 * reason is all; a wrong reason is put right by a tap on another.
 * @param {Store} store
 * @param {Set<string>} open parts the driver has opened
 */
export function offPart(store, open) {
  const { view } = store.get();
  if (!view) return null;
  return folded("off", p.off, open, h(
    "div",
    {},
    h("p", { className: "help" }, p.offHelp),
    h("div", { className: "reasons", role: "group", "aria-label": p.off }, ...OFF_REASONS.map((reason) => {
      const chosen = view.off === reason;
      const one = button(p.offReasonWords[reason], () => store.act.answer({ off: reason }), chosen ? "pressed" : "");
      one.setAttribute("aria-pressed", String(chosen));
      return one;
    })),
  ));
}

/**
 * @param {string} key
 * @param {string} title
 * @param {Set<string>} open
 * @param {HTMLElement} inside
 */
function folded(key, title, open, inside) {
  const details = h("details", { className: `rest set ${key}`, open: open.has(key) }, h("summary", { "data-key": key }, title), inside);
  details.addEventListener("toggle", () => (details.open ? open.add(key) : open.delete(key)));
  return details;
}

/**
 * Advice is off: said where nobody can miss it. The way back stays in sight however far the
 * page is scrolled.
 * @param {Store} store
 */
export function offNotice(store) {
  const off = store.get().view?.off;
  if (!off) return [];
  return [
    h(
      "div",
      { className: "notice strong", role: "status" },
      h("p", {}, `${p.offNow} ${p.offReasonWords[off] ?? p.offReasonWords.other}.`),
      h("p", {}, words.card.w6),
    ),
    h("div", { className: "back-on" }, button(p.on, () => store.act.answer({ off: null }))),
  ];
}

/**
 * @param {Store} store
 * @param {TripView} view
 */
function patternPart(store, { base, trip }) {
  const { prep } = store.get();
  const last = trip.calls.at(-1)?.target;
  const extra = extraChoices(base, trip);
  return h(
    "div",
    {},
    h("p", { className: "help" }, p.patternHelp),
    ...trip.calls.map(({ target }) => radios({
      name: `call ${target}`,
      legend: nameOf(base, target),
      written: true,
      short: true,
      choices: [
        { value: "booked", words: p.patternWords.booked },
        // A train does not run through the last stop of its trip.
        ...CALL_CHANGES.filter((one) => one !== "passes" || target !== last).map((value) => ({ value, words: p.patternWords[value] })),
      ],
      value: prep?.calls?.[target] ?? "booked",
      pick: (value) => store.act.changeCall(target, CALL_CHANGES.find((one) => one === value) ?? null),
    })),
    extra.length > 0
      ? h(
        "fieldset",
        { className: "choices pairs" },
        h("legend", {}, p.extra),
        ...extra.map(({ key, name }) => tick(name, prep?.extra?.includes(key) ?? false, (on) => store.act.extraCall(key, on), `extra ${key}`)),
      )
      : null,
  );
}

/**
 * @param {Base} base
 * @param {string} key
 */
function nameOf(base, key) {
  return base.targets.find((one) => one.key === key)?.name ?? key;
}

/**
 * @param {Store} store
 * @param {Base} base
 */
function dutyPart(store, base) {
  const { duty } = store.get();
  const mine = duty?.route === base.route.key ? duty : null;
  const select = h(
    "select",
    { id: "duty-trip", "data-key": "duty-trip" },
    h("option", { value: "" }, words.brief.chooseTrip),
    ...base.trips.map((one) => h("option", { value: one.key }, one.name)),
  );
  select.addEventListener("change", () => {
    if (select.value) store.act.addPart({ kind: "trip", trip: select.value });
  });
  return h(
    "div",
    {},
    h("p", { className: "help" }, p.dutyHelp),
    mine ? partList(store, base, mine) : null,
    h("div", { className: "field" }, h("label", { for: "duty-trip" }, p.dutyAddTrip), select),
    h("div", { className: "steps" }, ...OTHER_PARTS.map((kind) => button(p.dutyWords[kind], () => store.act.addPart({ kind })))),
    mine ? h("p", {}, button(p.dutyEnd, () => store.act.endDuty(), "quiet")) : null,
  );
}

/**
 * @param {Store} store
 * @param {Base} base
 * @param {Duty} duty
 */
function partList(store, base, duty) {
  return h("ol", { className: "duty-parts" }, ...duty.parts.map((part, i) => {
    const name = part.kind === "trip" ? (base.trips.find((one) => one.key === part.trip)?.name ?? part.trip) : p.dutyWords[part.kind];
    const now = i === duty.at ? ` (${p.dutyNow})` : "";
    const asks = part.kind === "trip" ? "" : `. ${p.dutyAsks}`;
    const take = button(p.dutyTake, () => store.act.removePart(i), "quiet");
    take.setAttribute("aria-label", `${p.dutyTake}: ${name}`);
    return h("li", {}, h("span", {}, `${name}${now}${asks}`), " ", take);
  }));
}
