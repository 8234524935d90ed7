/**
 * The warnings of a trip, in words and with their age, and how old the tablet's knowledge
 * of them is. That none is here never says that none stands.
 *
 * @import {State} from "../data/store.js"
 * @import {TripView, TripWarning} from "../core/types.js"
 */

import { ageWords, whenWords } from "../core/age.js";
import { placeAlong } from "../core/format.js";
import { depotTime, readingOf } from "../core/warnings.js";
import { h } from "../elements/dom.js";
import { words } from "../words/chosen.js";

const w = words.warnings;

/** @param {State} state */
export function warningsPart(state) {
  const now = depotTime(readingOf(state, Date.now()));
  const { view } = state;
  if (!view || view.warnings.length === 0) return null;
  return h(
    "section",
    { className: "warnings", id: "warnings-part" },
    h("h2", {}, w.title),
    ...view.warnings.map((one) => h("div", { className: "notice warning" }, ...lines(view, one, now))),
  );
}

/**
 * W5 on the first screen, whatever is held.
 * @param {State} state
 */
export function heldLine(state) {
  return h("p", { className: "w5" }, heldWords(state, depotTime(readingOf(state, Date.now()))));
}

/**
 * W5, or why it cannot be said.
 * @param {Pick<State, "warnings">} state
 * @param {number} now by the depot's clock
 */
export function heldWords({ warnings }, now) {
  if (warnings.broken) return w.broken;
  return warnings.at === null ? w.never : w.w5(whenWords(warnings.at, now));
}

/**
 * @param {TripView} view
 * @param {TripWarning} one
 * @param {number} now by the depot's clock
 */
function lines(view, one, now) {
  const { warning, name, certain, begun } = one;
  const place = one.placed ? placeWords(view, one) : w.unknownPlace;
  // Paper grows older than an age that is printed on it: there only the time stands.
  const age = one.from === null ? "" : ageWords(one.from, now, words.figures);
  const since = one.from === null ? [w.sinceUnknown] : [w.since(one.when), age && h("span", { className: "age" }, `, ${age}`), "."];
  return [
    h("p", {}, h("strong", {}, w.head(name ?? w.unknownState, place)), warning.reason ? `: ${warning.reason}` : ""),
    warning.heldBefore ? h("p", {}, h("strong", {}, w.heldBefore)) : null,
    certain ? null : h("p", {}, w.asWorst),
    h("p", {}, ...(begun ? since : [w.begins(one.when)])),
    warning.told_by ? h("p", {}, w.toldBy(warning.told_by, warning.reference ?? "")) : null,
    one.review ? h("p", {}, h("strong", {}, w.review(one.review))) : null,
    h("p", {}, stopsWords(view, one)),
  ];
}

/**
 * In the order the train meets them.
 * @param {TripView} view
 * @param {TripWarning} one
 */
function placeWords({ base, direction }, { warning }) {
  const ends = [Number(warning.from_m), Number(warning.to_m)].toSorted((a, b) => direction.sign * (a - b));
  const [from, to] = ends.map((at) => placeAlong(at, base.route.distance_unit, words.figures));
  return from === to ? from : w.between(from, to);
}

/**
 * @param {TripView} view
 * @param {TripWarning} one
 */
function stopsWords(view, one) {
  const met = view.rows.filter((row) => row.warned === one);
  const names = (/** @type {boolean} */ barred) =>
    met.filter((row) => Boolean(row.bar) === barred).map((row) => row.target.name).join(", ");
  const [planned, bare] = [names(false), names(true)];
  if (!planned && !bare) return view.bar ? w.onNoApproach : w.noStop;
  return [planned && w.stops(planned), bare && w.onApproach(bare)].filter(Boolean).join(" ");
}
