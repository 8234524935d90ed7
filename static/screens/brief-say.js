/**
 * Sentences to say or to print: for control, and for the driver who takes over.
 *
 * @import {State} from "../data/store.js"
 * @import {ReportBody, TripView} from "../core/types.js"
 */

import { timeOfDay } from "../core/age.js";
import { metOnDuty } from "../core/duty.js";
import { controlWords } from "../core/say.js";
import { button, h } from "../elements/dom.js";
import { words } from "../words/chosen.js";
import { railWords, trainWords } from "./rail-words.js";

const p = words.prepare;

/** @param {State} state */
export function sayPart(state) {
  const { view, prep } = state;
  if (!view || !prep) return null;
  const told = controlWords(view, words);
  return h(
    "section",
    { className: "say" },
    told ? h("h2", {}, p.control) : null,
    told ? h("p", {}, told) : null,
    h("h2", {}, p.handover),
    ...handoverLines(state, view).map((line) => h("p", {}, line)),
    h("p", {}, button(p.print, () => print(), "quiet")),
  );
}

/**
 * @param {State} state
 * @param {TripView} view
 */
function handoverLines({ prep, duty, rows, receipts }, view) {
  if (!prep) return [];
  const sand = prep.sand ?? "unknown";
  const began = duty?.route === view.base.route.key ? duty.began : prep.stateAt;
  const met = metOnDuty([...rows, ...receipts], began);
  const train = p.handoverTrain(trainWords(view, prep), p.sandWords[sand], words.language.within(view.stateName));
  return [
    train,
    // Only what the line before has not said: a sign, an age.
    ...(view.w9 !== null || (view.signs ?? []).length > 0 ? [railWords(view)] : []),
    ...(prep.brakeTest ? [p.handoverTested(p.brakeTestWords[prep.brakeTest])] : []),
    ...(met.length > 0 ? met.map(({ at, body }) => metWords(view, at, body)) : [p.handoverNothing]),
  ];
}

/**
 * @param {TripView} view
 * @param {number} at
 * @param {ReportBody} body
 */
function metWords({ base }, at, body) {
  const place = body.place || base.targets.find((one) => one.key === body.target)?.name || words.report.unknownPlace;
  const found = words.report.foundWords[/** @type {import("../core/types.js").Found} */ (body.found)] ?? "";
  const happened = /** @type {string[]} */ (body.happened ?? []).map((one) => words.report.happenedWords[one] ?? one);
  const train = base.trains.find((one) => one.key === body.train)?.name ?? "";
  const sand = body.sand_used === true ? words.say.sand : body.sand_used === false ? words.say.noSand : "";
  const said = words.language.within([found, ...happened, sand, train].filter(Boolean).join(", "));
  return `${timeOfDay(at)} ${[place, said].filter(Boolean).join(", ")}.`;
}
