/**
 * The sentence for control. The catalogue of words comes in from outside, so this module
 * knows no language.
 *
 * @import {TripView} from "./types.js"
 * @typedef {typeof import("../words/en.js").words} Words
 */

import { allowance, countsOf } from "./trip.js";

/**
 * @param {TripView} view
 * @param {Words} w
 * @returns {string | null} null where no stop has a figure: control must not hear that nothing is added
 */
export function controlWords(view, w) {
  const { seconds, unknown } = allowance(view.rows);
  if (!view.train || view.off || view.withdrawn || unknown === view.rows.length) return null;
  const cars = w.card.cars(view.train.cars);
  const sum = w.prepare.controlSay(view.trip.name, cars, w.language.within(view.stateName), Math.ceil(seconds / 60));
  const { untold } = countsOf(view.rows);
  return unknown > 0 ? `${sum} ${w.brief.allowanceUnknown(untold.stops, untold.boards)}` : sum;
}
