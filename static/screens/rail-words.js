/**
 * What the trip is planned with, in words: the rail, why it is planned worse, the train.
 *
 * @import {Prep, TripView} from "../core/types.js"
 */

import { words } from "../words/chosen.js";

/** @param {string[]} signs */
export function signWords(signs) {
  return signs.map((sign) => words.prepare.signWords[sign] ?? sign).join(", ");
}

/**
 * What was proposed is told wherever a better state is planned.
 * @param {TripView} view
 * @param {string} planned
 */
export function withProposal({ proposed }, planned) {
  return proposed ? words.weather.plannedBetter(planned, words.language.within(proposed)) : planned;
}

/** @param {TripView} view */
export function railWords(view) {
  const state = words.language.within(view.stateName);
  if (view.w9 !== null) return view.changed ? words.frame.w9train(state) : words.frame.w9(view.w9, state);
  const signs = view.signs ?? [];
  return withProposal(view, signs.length > 0 ? words.frame.plannedSigns(state, signWords(signs)) : words.frame.planned(state));
}

/**
 * What of the train is to be read at once: how long it is, and what does not work.
 * @param {TripView} view
 * @param {Prep} prep
 */
export function shortTrainWords(view, prep) {
  const [, cars, isolated, wsp] = partsOf(view, prep);
  return [cars, prep.isolated === 0 ? "" : isolated, wsp].filter(Boolean).join(", ");
}

/**
 * @param {TripView} view
 * @param {Prep} prep
 */
export function trainWords(view, prep) {
  return partsOf(view, prep).filter(Boolean).join(", ");
}

/**
 * @param {TripView} view
 * @param {Prep} prep
 */
function partsOf(view, prep) {
  const b = words.brief;
  const isolated = prep.isolated === 0 ? b.isolatedNone : prep.isolated === "more" ? b.isolatedMore : b.isolatedSome(String(prep.isolated));
  const type = view.train?.type_name ?? view.base.trains.find((one) => one.type === view.trip.train_type)?.type_name;
  const formed = view.base.trains.find((one) => one.type === view.trip.train_type && one.formation === prep.formation);
  const cars = formed ? words.card.cars(formed.cars) : words.prepare.other;
  const wsp = prep.wsp === "fault" ? `${words.prepare.wsp}: ${words.prepare.wspWords.fault}` : "";
  return [type, cars, isolated, wsp];
}
