/**
 * The page of the ride: what may be chosen, the strip, and under it the app's own card, drawn by
 * the app's own screen from a store that belongs to this page alone.
 *
 * @import {Pack} from "../core/types.js"
 * @import {Event} from "./train.js"
 * @import {Ride} from "./ride.js"
 */

import { stepByHand } from "../core/follow.js";
import { speedUnit } from "../core/format.js";
import { tileWords } from "../core/where.js";
import { createStore, firstState } from "../data/store.js";
import { button, fill, h } from "../elements/dom.js";
import { mount } from "../screens/next-stop.js";
import { takeFixedWords, words } from "../words/chosen.js";
import { fetchPacks } from "./packs.js";
import { jump, reportPlace, second, startRide } from "./ride.js";
import { drawStrip } from "./strip.js";
import { de, en } from "./words/ride.js";

const SPEEDS = [1, 2, 5, 10, 20, 30];
/** Pixels; as in the sheet: narrower is a phone. */
const NARROW = 500;
const FRAME_MS = 100;
/** Real seconds that a page which was hidden makes up for. */
const MOST_BEHIND_S = 2;
const EVENTS = /** @type {const} */ (["tunnel", "short", "slip", "overrun"]);

/**
 * @param {{root: HTMLElement, page: HTMLElement, now: () => number}} where now: milliseconds that only go on
 */
export async function startRidePage({ root, page, now }) {
  const w = words.language.code === "de" ? de : en;
  document.title = w.page;
  fill(root, band(w));
  const packs = await fetchPacks().catch((error) => {
    console.error("no lines for the ride", error);
    return [];
  });
  if (packs.length === 0) return fill(page, h("p", { role: "alert" }, w.none));
  const store = createStore(firstState());
  const strip = h("div", { className: "line-strip", role: "img", "aria-label": w.strip });
  const told = h("div", { className: "told" });
  let chosen = { pack: packs[0], trip: packs[0].base.trips[0].key, state: slippery(packs[0]) };
  let speed = 5;
  let paused = false;
  /** @type {Ride} */
  let ride;
  let unmount = () => {};

  /** A change of the rides's state, and of all that shows it. @param {Ride} next */
  function show(next) {
    ride = next;
    document.body.classList.toggle("moving", ride.follow.motion === "moving");
    store.set({ follow: ride.follow, clockOffset: ride.now - Date.now() });
    drawStrip(strip, ride, w);
    fill(told, ...tell(ride, w));
    drawHappens();
  }

  function begin() {
    const first = startRide(chosen.pack, chosen.trip, chosen.state, departure(chosen.pack, chosen.trip));
    if (!first) return;
    unmount();
    takeFixedWords(chosen.pack.base);
    store.set({ pack: chosen.pack, view: first.view, position: "on", touched: false });
    store.act = acting(store, (index) => show({ ...ride, follow: stepByHand(ride.follow, index) }));
    ride = first;
    unmount = mount(page, store);
    show(first);
  }

  const pause = button(w.pause, () => {
    paused = !paused;
    pause.textContent = paused ? w.go : w.pause;
  });
  const happens = h("fieldset", { className: "happens" }, h("legend", {}, w.happens), ...EVENTS.map((one) => h("label", {},
    h("input", { type: "checkbox", name: one, onchange: () => show({ ...ride, asked: toggled(ride.asked, one) }) }), ` ${w.events[one]}`)));
  function drawHappens() {
    for (const one of happens.querySelectorAll("input")) one.checked = ride.asked.has(/** @type {Event} */ (one.name));
  }
  const trip = select(w.trip, packs.map((pack) => ({ group: pack.base.route.name, items: pack.base.trips.map((one) => ({ value: `${pack.base.route.key} ${one.key}`, words: one.name })) })), (value) => {
    const [route, key] = value.split(" ");
    const pack = packs.find((one) => one.base.route.key === route) ?? packs[0];
    chosen = { pack, trip: key, state: pack === chosen.pack ? chosen.state : slippery(pack) };
    drawRail();
    begin();
  });
  const railPlace = h("div", {});
  function drawRail() {
    const states = chosen.pack.base.states.filter((one) => one.pickable).map((one) => ({ value: one.key, words: one.name }));
    fill(railPlace, select(w.rail, [{ group: "", items: states }], (value) => {
      chosen = { ...chosen, state: value };
      begin();
    }, chosen.state));
  }
  drawRail();
  // A phone has room for the card or for every control, not for both.
  const narrow = innerWidth < NARROW;
  const again = button(w.again, begin);
  const rate = select(w.speed, [{ group: "", items: SPEEDS.map((one) => ({ value: String(one), words: w.times(one) })) }], (value) => {
    speed = Number(value);
  }, String(speed));
  fill(root, band(w), strip, told,
    h("div", { className: "ride-do" }, pause, button(w.jump, () => show(jump(ride))), ...(narrow ? [] : [again, rate])),
    h("details", { className: "ride-choose" }, h("summary", {}, `${w.trip}, ${w.rail.toLowerCase()}, ${w.happens.toLowerCase()}`), ...(narrow ? [rate, again] : []), trip, railPlace, happens));
  begin();
  run(now, () => (paused ? 0 : speed), (seconds) => {
    let next = ride;
    for (let i = 0; i < seconds; i++) next = second(next);
    show(next);
  });
}

/**
 * @param {() => number} now
 * @param {() => number} speed
 * @param {(seconds: number) => void} pass
 */
function run(now, speed, pass) {
  let before = now();
  let owed = 0;
  setInterval(() => {
    const at = now();
    owed += Math.min((at - before) / 1000, MOST_BEHIND_S) * speed();
    before = at;
    const whole = Math.floor(owed);
    owed -= whole;
    if (whole > 0) pass(whole);
  }, FRAME_MS);
}

/** What the card's screen may ask for here: to step, nothing that is kept. */
function acting(/** @type {ReturnType<typeof createStore>} */ store, /** @type {(index: number) => void} */ step) {
  return { ...store.act, step: async (/** @type {number} */ index) => step(index), cardShown: () => {} };
}

/** @param {typeof en} w */
function band(w) {
  return h("p", { className: "ride-band" }, h("strong", {}, w.band), " ", h("span", {}, w.bandRest), " ", h("a", { href: "/" }, w.back));
}

/**
 * @param {Ride} ride
 * @param {typeof en} w
 */
function tell(ride, w) {
  const { follow, view } = ride;
  const name = follow.face.index === null ? null : view.calls[follow.face.index]?.target.name;
  const face = [name ?? w.noCard, words.frame.placeWords[follow.face.word], follow.frozen ? w.frozen : ""].filter(Boolean).join(", ");
  const spot = follow.motion === "standing" ? reportPlace(ride) : null;
  const line = (/** @type {string} */ lead, /** @type {string} */ text) => h("p", {}, h("b", {}, lead), ` ${text}`);
  return [
    line(w.really, really(ride, w)),
    line(w.says, face),
    follow.motion === "standing" ? line(w.report, spot ? tileWords(spot, words) : w.asks) : h("p", {}, "\u00a0"),
  ];
}

/**
 * @param {Ride} ride
 * @param {typeof en} w
 */
function really({ train, way, view }, w) {
  if (train.over) return w.over;
  const { distance_unit, speed_unit, mps_per_unit } = view.base.route;
  const miles = (/** @type {number} */ m) => (distance_unit === "km" ? `${(m / 1000).toFixed(1)} km` : `${(m / 1609.344).toFixed(1)} mi`);
  // Near the platform tenths of a mile would say nothing.
  const far = (/** @type {number} */ m) => (m < 500 ? `${Math.round(m)} m` : miles(m));
  const index = way.stops.findLastIndex(({ near }) => train.s >= near);
  const here = way.stops[index];
  const name = (/** @type {number} */ one) => view.calls[one]?.target.name ?? "";
  const at = here && train.s <= here.far ? w.inPlatform(name(index))
    : here && train.s - here.far < 300 ? w.past(far(train.s - here.far), name(index))
    : w.before(far((way.stops[index + 1]?.near ?? train.s) - train.s), name(index + 1));
  if (train.speed === 0) return w.standing(at);
  return w.running(`${Math.round(train.speed / mps_per_unit)} ${speedUnit(speed_unit)}`, at);
}

/** The rail on which there is most to be seen: the worst a driver may pick. @param {Pack} pack */
function slippery(pack) {
  return (pack.base.states.findLast((one) => one.pickable) ?? pack.base.states[0]).key;
}

/**
 * The ride begins when the trip does, by its own timetable.
 * @param {Pack} pack
 * @param {string} trip
 */
function departure(pack, trip) {
  const depart = pack.base.trips.find((one) => one.key === trip)?.starts.depart ?? "06:00";
  const [hours, minutes] = depart.split(":").map(Number);
  return new Date(2026, 10, 5, hours, minutes).getTime();
}

/**
 * @param {ReadonlySet<Event>} asked
 * @param {Event} one
 * @returns {ReadonlySet<Event>}
 */
function toggled(asked, one) {
  const next = new Set(asked);
  if (!next.delete(one)) next.add(one);
  return next;
}

/**
 * @param {string} label
 * @param {{group: string, items: {value: string, words: string}[]}[]} groups
 * @param {(value: string) => void} pick
 * @param {string} [value]
 */
function select(label, groups, pick, value) {
  const options = groups.flatMap(({ group, items }) => {
    const made = items.map((one) => h("option", { value: one.value, selected: one.value === value }, one.words));
    return group ? [h("optgroup", { label: group }, ...made)] : made;
  });
  const list = h("select", { onchange: () => pick(list.value) }, ...options);
  return h("label", { className: "pick" }, h("span", {}, label), " ", list);
}
