/**
 * What the driver tells the Brief: line, trip, formation, isolated brakes, rail state.
 * Nothing is filled in for him that he alone can know.
 *
 * @import {Store} from "../data/store.js"
 * @import {Base, Prep, Trip} from "../core/types.js"
 */

import { pickable } from "../core/chain.js";
import { formations, isolatedChoices } from "../core/trip.js";
import { button, h, radios } from "../elements/dom.js";
import { words } from "../words/chosen.js";

const w = words.brief;

/**
 * @param {Store} store
 * @param {() => void} done
 */
export function choices(store, done) {
  const { packs, pack, prep, view } = store.get();
  if (!pack) return null;
  const trip = pack.base.trips.find((one) => one.key === prep?.trip);
  return h(
    "div",
    { className: "prepare" },
    line(store, packs, pack.base.route.key),
    tripChoice(store, pack.base, trip),
    trip && prep ? train(store, pack.base, trip, prep) : null,
    trip && prep ? rail(store, pack.base, prep) : null,
    view && !askAgain(prep) ? button(w.done, done, "confirm") : null,
  );
}

/** @param {Prep | null} prep */
function askAgain(prep) {
  return !prep || prep.state === null || prep.isolated === null;
}

/**
 * @param {Store} store
 * @param {Record<string, {name: string} | undefined>} packs
 * @param {string} current
 */
function line(store, packs, current) {
  return radios({
    name: "line",
    legend: w.line,
    short: true,
    choices: Object.entries(packs).map(([value, one]) => ({ value, words: one?.name ?? value })),
    value: current,
    pick: (route) => store.act.chooseRoute(route),
  });
}

/**
 * @param {Store} store
 * @param {Base} base
 * @param {Trip | undefined} trip
 */
function tripChoice(store, base, trip) {
  const select = h(
    "select",
    { id: "trip", "data-key": "trip" },
    h("option", { value: "" }, w.chooseTrip),
    ...base.directions.map((direction) => h(
      "optgroup",
      { label: direction.name },
      ...base.trips
        .filter((one) => one.direction === direction.key)
        .map((one) => h("option", { value: one.key, selected: one.key === trip?.key }, tripName(one))),
    )),
  );
  select.addEventListener("change", () => {
    const chosen = base.trips.find((one) => one.key === select.value);
    if (chosen) store.act.chooseTrip(chosen);
  });
  return h("div", { className: "field" }, h("label", { for: "trip" }, w.trip), select);
}

/** @param {Trip} trip */
function tripName(trip) {
  const time = trip.starts.depart ?? "";
  return trip.name.includes(time) ? trip.name : `${time} ${trip.name}`;
}

/**
 * @param {Store} store
 * @param {Base} base
 * @param {Trip} trip
 * @param {Prep} prep
 */
function train(store, base, trip, prep) {
  const known = formations(base, trip.train_type);
  const isolated = isolatedChoices(base, trip.train_type, prep.formation);
  return h(
    "div",
    {},
    h("p", { className: "type" }, `${w.train}: ${known[0]?.type_name ?? trip.train_type}`),
    radios({
      name: "formation",
      legend: w.formation,
      short: true,
      choices: known.map((one) => ({ value: one.formation, words: words.card.cars(one.cars) })),
      value: prep.formation,
      pick: (formation) => store.act.chooseTrain({ formation }),
    }),
    radios({
      name: "isolated",
      legend: w.isolated,
      short: true,
      choices: [
        ...isolated.map((n) => ({ value: String(n), words: n === 0 ? w.none : String(n) })),
        { value: "more", words: w.more },
      ],
      value: prep.isolated === null ? null : String(prep.isolated),
      pick: (value) => store.act.chooseTrain({ isolated: value === "more" ? "more" : Number(value) }),
    }),
  );
}

/**
 * @param {Store} store
 * @param {Base} base
 * @param {Prep} prep
 */
function rail(store, base, prep) {
  return h(
    "div",
    {},
    radios({
      name: "rail",
      legend: w.rail,
      choices: pickable(base).map((state) => ({ value: state.key, words: state.name })),
      value: prep.state,
      pick: (state) => store.act.chooseState(state),
    }),
    h("p", { className: "help" }, w.railAsk),
  );
}
