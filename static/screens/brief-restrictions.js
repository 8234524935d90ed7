/**
 * Temporary speed restrictions of the trip's line as they are held here, below the words that
 * send the driver to his notice. That none is listed never says that none is in force.
 *
 * @import {State} from "../data/store.js"
 * @import {TripRestriction, TripView} from "../core/types.js"
 */

import { whenWords } from "../core/age.js";
import { isLowered } from "../core/card.js";
import { placeAlong, speedWords } from "../core/format.js";
import { depotTime, readingOf } from "../core/warnings.js";
import { h } from "../elements/dom.js";
import { words } from "../words/chosen.js";

const w = words.restrictions;

/** @param {State} state */
export function restrictionsPart(state) {
  const { view, restrictions } = state;
  if (!view || !(view.restrictions.length > 0 || restrictions.refused || restrictions.broken)) return null;
  return h(
    "section",
    { className: "restrictions" },
    h("h2", {}, w.title),
    h("p", {}, h("strong", {}, words.brief.restrictions), ` ${heldWords(state)} ${w.marks}`),
    restrictions.refused ? h("p", { className: "notice", role: "status" }, w.refused) : null,
    view.restrictions.length > 0 ? h("ul", {}, ...view.restrictions.map((one) => h("li", {}, ...lines(view, one)))) : null,
  );
}

/** @param {State} state */
function heldWords(state) {
  const { at, broken } = state.restrictions;
  if (broken) return w.broken;
  return at === null ? w.never : w.held(whenWords(at, depotTime(readingOf(state, Date.now()))));
}

/**
 * @param {TripView} view
 * @param {TripRestriction} one
 */
function lines(view, one) {
  const { restriction, begun, from, until, over } = one;
  const head = w.head(speedWords(restriction.speed, restriction.unit), one.placed ? placeWords(view, one) : words.warnings.unknownPlace);
  const end = until === null ? w.noEnd : w.until(until);
  const names = view.rows.filter((row) => isLowered(row) && row.lowered?.includes(restriction.id)).map((row) => row.target.name);
  return [
    h("strong", {}, head),
    `; ${w.notice(restriction.reference)}. ${begun ? w.from(from) : w.begins(from)}, ${end}`,
    over && until !== null ? h("strong", {}, ` ${w.over(until)}`) : null,
    names.length > 0 ? ` ${w.lowers(names.join(", "))}` : "",
  ];
}

/**
 * In the order the train meets them.
 * @param {TripView} view
 * @param {TripRestriction} one
 */
function placeWords({ base, direction }, { restriction }) {
  const ends = [restriction.from_m, restriction.to_m].toSorted((a, b) => direction.sign * (a - b));
  const [from, to] = ends.map((at) => placeAlong(at, base.route.distance_unit, words.figures));
  return words.warnings.between(from, to);
}
