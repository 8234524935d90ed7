/**
 * What the driver tells the Brief: line, trip, formation, isolated brakes, rail state.
 * Nothing is filled in for him that he alone can know.
 *
 * @import {Store} from "../data/store.js"
 * @import {Base, Prep, Trip} from "../core/types.js"
 */

import { SIGNS, pickable, plannedState } from "../core/chain.js";
import { dueNext, foundTrips } from "../core/due.js";
import { OTHER_FORMATION, SAND, WSP, allAsked } from "../core/prepare.js";
import { formations, isolatedChoices } from "../core/trip.js";
import { proposedIndex } from "../core/proposal.js";
import { button, fill, h, radios, tick } from "../elements/dom.js";
import { words } from "../words/chosen.js";
import { betterPart, proposalPart } from "./brief-proposal.js";
import { signWords } from "./rail-words.js";

const w = words.brief;
const p = words.prepare;
/** Trips offered by a tile each; above so many in the list a time or a number finds one. */
const OFFERED = 3;
const LISTED = 20;
/** What was typed to find a trip: news that draws the page again leaves it there. */
let sought = "";

/**
 * @param {Store} store
 * @param {() => void} done
 */
export function choices(store, done) {
  const { packs, pack, prep, view } = store.get();
  // Of two lines one may be damaged: the other can be chosen all the same.
  if (!pack) return Object.keys(packs).length > 0 ? line(store, packs, null) : null;
  const trip = pack.base.trips.find((one) => one.key === prep?.trip);
  return h(
    "div",
    { className: "prepare" },
    line(store, packs, pack.base.route.key),
    tripChoice(store, pack.base, trip),
    trip && prep ? train(store, pack.base, trip, prep) : null,
    trip && prep ? rail(store, pack.base, prep) : null,
    view && prep && allAsked(prep) ? button(w.done, done, "confirm") : null,
  );
}

/**
 * @param {Store} store
 * @param {Record<string, {name: string} | undefined>} packs
 * @param {string | null} current
 */
function line(store, packs, current) {
  return radios({
    name: "line",
    legend: w.line,
    written: true,
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
  const select = h("select", { id: "trip", "data-key": "trip" });
  const offer = (/** @type {Trip[]} */ trips) => fill(select, ...options(base, trips, trip));
  offer(base.trips);
  select.addEventListener("change", () => {
    const chosen = base.trips.find((one) => one.key === select.value);
    if (!chosen) return;
    sought = "";
    store.act.chooseTrip(chosen);
  });
  const find = base.trips.length > LISTED ? finder(base, trip, offer) : null;
  return h(
    "div",
    { className: "field" },
    trip ? null : dueTiles(store, base.trips),
    find,
    h("label", { for: "trip" }, w.trip),
    select,
  );
}

/**
 * The trips that leave next, one tap each; none is chosen for the driver.
 * @param {Store} store
 * @param {Trip[]} trips
 */
function dueTiles(store, trips) {
  const now = new Date();
  const due = dueNext(trips, now.getHours() * 60 + now.getMinutes(), OFFERED);
  if (due.length === 0) return null;
  const take = async (/** @type {Trip} */ one) => {
    await store.act.chooseTrip(one);
    // The tile is gone: the keyboard goes on from the trip that was chosen.
    document.getElementById("trip")?.focus({ preventScroll: true });
  };
  return h(
    "div",
    { className: "due", role: "group", "aria-label": w.due },
    h("p", { className: "type" }, w.due),
    ...due.map((one) => button(tripName(one), () => take(one), "quiet")),
  );
}

/**
 * A field that leaves in the list what a time or a number finds; the trip chosen stays in it.
 * @param {Base} base
 * @param {Trip | undefined} trip
 * @param {(trips: Trip[]) => void} offer
 */
function finder(base, trip, offer) {
  const field = h("input", { id: "trip-find", type: "text", autocomplete: "off", name: "trip-find", value: sought });
  const said = h("p", { className: "help", role: "status" });
  const seek = () => {
    sought = field.value;
    const found = foundTrips(base.trips, sought);
    offer(trip && !found.includes(trip) ? [trip, ...found] : found);
    fill(said, sought.trim() === "" ? "" : w.found(found.length));
  };
  field.addEventListener("input", seek);
  if (sought) seek();
  return h("div", {}, h("label", { for: "trip-find", className: "type" }, w.find), field, said);
}

/**
 * @param {Base} base
 * @param {Trip[]} trips
 * @param {Trip | undefined} chosen
 */
function options(base, trips, chosen) {
  return [
    h("option", { value: "" }, w.chooseTrip),
    ...base.directions.map((direction) => h(
      "optgroup",
      { label: direction.name },
      ...trips
        .filter((one) => one.direction === direction.key)
        .map((one) => h("option", { value: one.key, selected: one.key === chosen?.key }, tripName(one))),
    )),
  ];
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
  const booked = known.find((one) => one.formation === trip.formation);
  const chosen = prep.formation === null ? "none" : prep.formation === OTHER_FORMATION ? "other" : "known";
  return h(
    "div",
    {},
    prep.trainChanged ? h("p", { className: "notice" }, p.askedAgain) : null,
    h("p", { className: "type" }, `${w.train}: ${known[0]?.type_name ?? trip.train_type}`),
    radios({
      name: "formation",
      legend: w.formation,
      written: true,
      short: true,
      choices: [
        ...known.map((one) => ({ value: one.formation, words: words.card.cars(one.cars) })),
        { value: OTHER_FORMATION, words: p.other },
      ],
      value: prep.formation,
      pick: (formation) => store.act.chooseTrain({ formation }),
    }),
    help([booked ? p.booked(words.card.cars(booked.cars)) : "", p.formationHelpWords[chosen]].filter(Boolean).join(" ")),
    isolatedBrakes(store, isolatedChoices(base, trip.train_type, prep.formation), prep),
    wsp(store, prep),
    sand(store, prep),
    h("p", {}, button(p.trainChanged, () => store.act.trainChanged(), "quiet")),
  );
}

/**
 * @param {Store} store
 * @param {number[]} isolated
 * @param {Prep} prep
 */
function isolatedBrakes(store, isolated, prep) {
  const chosen = prep.isolated;
  const changes = chosen === 0 ? p.isolatedHelpWords.none : chosen === "more" ? p.isolatedHelpWords.more : p.isolatedHelpWords.some;
  const choices = isolated.length > 0 ? isolated : [0];
  return question({
    name: "isolated",
    legend: w.isolated,
    choices: [
      ...choices.map((n) => ({ value: String(n), words: n === 0 ? w.none : String(n) })),
      { value: "more", words: w.more },
    ],
    value: chosen === null ? null : String(chosen),
    pick: (value) => store.act.chooseTrain({ isolated: value === "more" ? "more" : Number(value) }),
  }, chosen === null ? null : changes);
}

/**
 * @param {Store} store
 * @param {Prep} prep
 */
function wsp(store, prep) {
  return question({
    name: "wsp",
    legend: p.wsp,
    choices: WSP.map((value) => ({ value, words: p.wspWords[value] })),
    value: prep.wsp ?? null,
    pick: (value) => store.act.answer({ wsp: value === "works" ? "works" : "fault" }),
  }, prep.wsp ? p.wspHelpWords[prep.wsp] : null);
}

/**
 * @param {Store} store
 * @param {Prep} prep
 */
function sand(store, prep) {
  return question({
    name: "sand",
    legend: p.sand,
    choices: SAND.map((value) => ({ value, words: p.sandWords[value] })),
    value: prep.sand ?? null,
    pick: (value) => store.act.answer({ sand: SAND.find((one) => one === value) ?? null }),
  }, `${p.sand}: ${p.sandHelpWords[prep.sand ?? "none"]}`);
}

/**
 * One thing only the driver knows, and what his answer changes.
 * @param {Omit<Parameters<typeof radios>[0], "short" | "written">} asked
 * @param {string | null} changes
 */
function question(asked, changes) {
  return h("div", {}, radios({ ...asked, short: true, written: true }), changes === null ? null : help(changes));
}

/** What the answer changes. @param {string} text */
function help(text) {
  return h("p", { className: "help" }, text);
}

/**
 * @param {Store} store
 * @param {Base} base
 * @param {Prep} prep
 */
function rail(store, base, prep) {
  const planned = plannedState(base, prep, Date.now());
  const signs = prep.signs ?? [];
  const marked = base.states[proposedIndex(base, prep)]?.key;
  return h(
    "div",
    {},
    proposalPart(store, base, prep),
    radios({
      name: "rail",
      legend: w.rail,
      written: true,
      choices: pickable(base).map((state) => ({ value: state.key, words: state.name, help: state.key === marked ? words.weather.mark : undefined })),
      // Old, or chosen for another train: asked again, so that the same one can be chosen anew.
      value: planned?.raised ? null : prep.state,
      pick: (state) => store.act.chooseState(state),
    }),
    betterPart(store, base, prep),
    planned?.raised ? help(raisedWords(base, prep, planned)) : null,
    help(w.railAsk),
    h(
      "fieldset",
      { className: "choices pairs" },
      h("legend", {}, p.signs),
      ...SIGNS.map((sign) => tick(p.signWords[sign], signs.includes(sign), (on) => store.act.sign(sign, on), sign)),
    ),
    help(planned && signs.length > 0
      ? p.toWorse(words.language.within(base.states[planned.index].name), signWords(signs))
      : p.signsHelp),
  );
}

/**
 * What counts until it is chosen anew (W9).
 * @param {Base} base
 * @param {Prep} prep
 * @param {{index: number, hours: number}} planned
 */
function raisedWords(base, prep, { index, hours }) {
  const name = words.language.within(base.states[index].name);
  return prep.trainChanged ? words.frame.w9train(name) : words.frame.w9(String(hours), name);
}
