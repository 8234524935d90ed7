/**
 * What is on the way besides the stops: where a running brake test is due, signals to stop
 * short of, what nobody surveyed; and the train as it was prepared.
 *
 * @import {Store} from "../data/store.js"
 * @import {Prep, TripView} from "../core/types.js"
 */

import { placeAlong } from "../core/format.js";
import { inferredWords } from "../core/inferred.js";
import { h, radios } from "../elements/dom.js";
import { words } from "../words/chosen.js";
import { trainWords } from "./rail-words.js";

const p = words.prepare;

/**
 * @param {TripView} view
 * @param {Prep} prep
 */
export function trainPart(view, prep) {
  return h(
    "section",
    { className: "train", id: "train-part" },
    h("h2", {}, words.brief.first.train),
    h("p", {}, `${view.base.route.name}. ${trainWords(view, prep)}.`),
    h("p", {}, `${p.sand}: ${p.sandHelpWords[prep.sand ?? "none"]}`),
  );
}

/**
 * @param {Store} store
 * @param {TripView} view
 */
export function brakeTestPart(store, view) {
  const mine = (view.base.brake_tests ?? []).filter((one) => one.direction === view.direction.key && onTheWay(view, one.at_m));
  const result = store.get().prep?.brakeTest ?? null;
  if (mine.length === 0) return null;
  return h(
    "section",
    { className: "brake-test" },
    h("h2", {}, p.brakeTests),
    h("ul", {}, ...inOrder(view, mine).map(({ words: place, at_m, note }) =>
      h("li", {}, h("strong", {}, p.brakeTestBy(place)), ` ${[placeAlong(at_m, view.base.route.distance_unit, words.figures), note].filter(Boolean).join(", ")}`))),
    radios({
      name: "brake-test",
      legend: p.brakeTest,
      short: true,
      written: true,
      choices: [{ value: "good", words: p.brakeTestWords.good }, { value: "weak", words: p.brakeTestWords.weak }],
      value: result,
      pick: (value) => store.act.answer({ brakeTest: value === "weak" ? "weak" : "good" }),
    }),
    result === "weak" ? h("p", { className: "notice strong", role: "status" }, p.weak) : null,
  );
}

/** @param {TripView} view */
export function signalsPart(view) {
  const mine = (view.base.signals ?? []).filter((one) => one.direction === view.direction.key && onTheWay(view, one.at_m));
  if (mine.length === 0) return null;
  return h(
    "section",
    { className: "signals" },
    h("h2", {}, p.signals),
    h("p", {}, p.signalsHelp),
    h("ul", {}, ...inOrder(view, mine).map((one) => h(
      "li",
      {},
      h("strong", {}, p.signal(one.words, one.stop_before)),
      ` ${[placeAlong(one.at_m, view.base.route.distance_unit, words.figures), one.note].filter(Boolean).join(", ")}`,
    ))),
  );
}

/**
 * What of the trip's way nobody surveyed.
 * @param {TripView} view
 */
export function inferredPart(view) {
  const { from, to } = wayOf(view);
  const said = inferredWords(view.base, view.direction.key, from, to ?? view.direction.sign * Infinity, words);
  return said && h("p", { className: "note inferred" }, said);
}

/** @param {TripView} view */
function wayOf({ base, trip, direction, calls }) {
  const from = base.places.find((place) => place.key === trip.starts.place)?.at_m ?? -direction.sign * Infinity;
  const last = calls.at(-1)?.target;
  return { from, to: last?.platform_to_m ?? last?.platform_from_m ?? null };
}

/**
 * @param {TripView} view
 * @param {number} at
 */
function onTheWay(view, at) {
  const { from, to } = wayOf(view);
  const { sign } = view.direction;
  return sign * (at - from) >= 0 && (to === null || sign * (to - at) >= 0);
}

/**
 * @template {{at_m: number}} T
 * @param {TripView} view
 * @param {T[]} some
 */
function inOrder({ direction }, some) {
  return some.toSorted((a, b) => direction.sign * (a.at_m - b.at_m));
}
