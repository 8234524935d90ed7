/**
 * The Brief's first screen: read in twenty seconds, before the first scroll. What is claimed
 * first stands first, so that the order holds with letters of any size; everything else is one
 * touch away.
 *
 * @import {State, Store} from "../data/store.js"
 * @import {NewFigures} from "../core/new-figures.js"
 * @import {Prep, TripView} from "../core/types.js"
 */

import { whenWords } from "../core/age.js";
import { changeOf, scopeOf, shownOf } from "../core/changed.js";
import { commonWords, countOf, oneStep, room, specialStops, withoutAdviceLines } from "../core/first.js";
import { durationWords, placeAlong } from "../core/format.js";
import { changedStops } from "../core/new-figures.js";
import { isRoomSmallHere, withoutStateInHand } from "../core/road.js";
import { nothingNew, seenNow, since } from "../core/since.js";
import { allowance, countsOf } from "../core/trip.js";
import { capped } from "../elements/capped.js";
import { button, focusOn, h } from "../elements/dom.js";
import { words } from "../words/chosen.js";
import { glued } from "./brief-rows.js";
import { heldLine } from "./brief-warnings.js";
import { nextTripButton } from "./next-trip.js";
import { railWords, shortTrainWords } from "./rail-words.js";

const w = words.brief;
const p = words.prepare;
/** Lines of what changed; the rest of the screen is for the stops. */
const CHANGES = 3;

/**
 * @param {Store} store
 * @param {TripView} view
 * @param {{open: Set<string>, change: () => void}} how
 */
export function firstScreen(store, view, { open, change }) {
  const state = store.get();
  if (!state.prep) return [];
  const bare = withoutAdviceLines(view, words);
  const news = [...changeLines(state), ...sinceLines(state)];
  const spent = [...bare, ...news.slice(0, CHANGES)].reduce((sum, text) => sum + countOf(text), 0);
  return [
    head(view, state.prep, change),
    view.bar && w.noTrainWords[view.bar.why] ? h("div", { className: "notice strong" }, h("p", {}, w.noTrain), h("p", {}, w.noTrainWords[view.bar.why])) : null,
    bare.length > 0 ? h("div", { className: "bare" }, ...bare.map((text) => h("p", {}, text))) : null,
    news.length > 0 ? newsPart(news, open) : h("p", { className: "since" }, quietWords(state)),
    ...stopsPart(view, open, spent),
    timePart(view),
    heldLine(state),
    nextTripButton(store),
    jumps(view),
  ];
}

/**
 * @param {TripView} view
 * @param {Prep} prep
 * @param {() => void} change
 */
function head(view, prep, change) {
  // The time and not the age: it is true on paper too, and too old a state says so itself (W9).
  const at = view.w9 === null ? h("span", { className: "note" }, `, ${whenWords(prep.stateAt, Date.now())}`) : null;
  return h(
    "div",
    { className: "chosen" },
    h("h1", {}, view.trip.name),
    button(w.change, change, "quiet"),
    h("p", {}, h("strong", {}, railWords(view)), at, glued(`; ${shortTrainWords(view, prep)}`)),
  );
}

/**
 * What changed since the last Brief of this line.
 * @param {State} state
 */
function sinceLines({ view, pack, prep, warnings, newFigures }) {
  if (!view || !pack || !prep) return [];
  const { base, direction } = view;
  const now = seenNow(base, pack.sha, warnings.rows);
  const found = since(prep.since, now, direction.key);
  if (found.first || nothingNew(found)) return [];
  const place = (/** @type {{state: string, from: number, to: number}} */ one) => {
    const name = base.states.find((state) => state.key === one.state)?.name ?? words.warnings.unknownState;
    const [from, to] = [one.from, one.to].map((at) => (Number.isFinite(at) ? placeAlong(at, base.route.distance_unit, words.figures) : ""));
    return words.warnings.head(name, from && to ? words.warnings.between(from, to) : words.warnings.unknownPlace);
  };
  return [
    ...found.added.map((id) => p.sinceAdded(place(now.warnings[id]))),
    ...found.amended.map((id) => p.sinceAmended(place(now.warnings[id]))),
    ...(found.pack ? newPackLines(view, newFigures[base.route.key], prep.since?.pack) : []),
    ...found.listed.map(p.sinceListed),
    ...found.gone.map((one) => p.sinceGone(place(one))),
    ...found.unlisted.map(p.sinceUnlisted),
  ];
}

/** Nothing is new; never said as if the rail were good. @param {State} state */
function quietWords({ prep }) {
  return prep?.since ? p.sinceNothing : p.sinceFirst;
}

/**
 * @param {TripView} view
 * @param {NewFigures | undefined} kept
 * @param {string | undefined} seen the pack of the Brief before
 */
function newPackLines(view, kept, seen) {
  const changed = changedStops(kept, seen, view);
  if (changed === null) return [p.sincePack];
  if (changed.length === 0) return [p.newFiguresNone];
  return changed.map(({ change, rows }) => p.newFigures(p.newFiguresWords[change], rows.map((row) => row.target.name).join(", ")));
}

/**
 * What changed on a card since it was last shown at a stand: the same words as on the card.
 * @param {State} state
 */
function changeLines({ view, prep, shownCards }) {
  if (!view || !prep) return [];
  const said = words.card.changed;
  const scope = scopeOf(prep);
  return view.calls.flatMap((row) => {
    const change = changeOf(shownCards, { scope, key: row.target.key, shown: shownOf(view, row) }, said);
    return change ? [`${row.target.name}: ${said.since(change.since, change.what)}`] : [];
  });
}

/**
 * @param {string[]} news
 * @param {Set<string>} open
 */
function newsPart(news, open) {
  const items = news.map((text) => h("li", {}, text));
  return h(
    "section",
    { className: "since" },
    h("h2", {}, p.since),
    capped(items, { most: CHANGES, key: "news", open, more: w.first.moreNews }),
  );
}

/**
 * @param {TripView} view
 * @param {Set<string>} open
 * @param {number} spent words that stand above
 */
function stopsPart(view, open, spent) {
  if (view.bar || view.withdrawn) return [];
  const special = specialStops(view, words);
  const common = oneStep(special);
  const lines = special.map(({ name, where, step, why }) => ({ name, how: [where, common ? "" : step].filter(Boolean).join(", "), why: why.join("; ") }));
  const items = lines.map(({ name, how, why }) =>
    h("li", {}, h("strong", {}, name), " ", h("span", { className: "what" }, h("span", { className: "where" }, glued(how)), " ", h("span", { className: "why" }, why))));
  const patch = isRoomSmallHere(view) ? w.coverSmallAll : "";
  const most = room(lines.map(({ name, how, why }) => [name, how, why].join(" ")), spent + countOf(patch));
  const rest = commonWords(view, special, words);
  return [
    special.length > 0
      ? h("section", { className: "worst" }, h("h2", {}, p.worst(common)), capped(items, { most, key: "special", open, more: w.first.moreStops }))
      : null,
    rest ? h("p", { className: "common" }, rest) : null,
    ...[handWords(view), patch].map((text) => text && h("p", { className: "bare-hand" }, text)),
  ];
}

/**
 * Said once for all stops; where it is the exception the stop itself says it.
 * @param {TripView} view
 */
function handWords(view) {
  const { all, most, others } = withoutStateInHand(view);
  if (!most) return "";
  return all ? w.noStateInHandAll : w.noStateInHandMost(others.join(", "));
}

/** @param {TripView} view */
function timePart(view) {
  if (view.withdrawn) return null;
  return h("p", { className: "overview" }, ...timeWords(view));
}

/** @param {TripView} view */
function timeWords({ base, rows }) {
  const { seconds, unknown } = allowance(rows);
  if (unknown === rows.length) return [w.allowanceNone];
  const given = allowanceWords(base.settings.trip_allowance_words, seconds);
  const { untold } = countsOf(rows);
  return unknown > 0 ? [...given, ` ${w.allowanceUnknown(untold.stops, untold.boards)}`] : given;
}

/**
 * The company's own sentence about time with its figure put in; else the figure and ours.
 * @param {string} template
 * @param {number} seconds
 * @returns {string[]}
 */
function allowanceWords(template, seconds) {
  if (template.includes("{minutes}")) return [template.replaceAll("{minutes}", String(Math.ceil(seconds / 60)))];
  return [`${w.allowance}: ${durationWords(seconds)}. `, template || w.allowanceMore];
}

/**
 * One touch to everything else, in the order in which a driver needs it.
 * @param {TripView} view
 */
function jumps(view) {
  const to = (/** @type {string} */ id, /** @type {string} */ text) => {
    const one = button(text, () => jump(id), "quiet");
    one.dataset.to = id;
    return one;
  };
  return h(
    "div",
    // A phone has room for three: the train's part follows that of the warnings.
    { className: view.warnings.length > 0 ? "jumps warned" : "jumps" },
    to("all-stops", w.first.allStops(view.calls.length)),
    view.warnings.length > 0 ? to("warnings-part", w.first.warnings(view.warnings.length)) : null,
    to("train-part", w.first.train),
    to("more-part", w.first.more),
  );
}

/** @param {string} id */
function jump(id) {
  const part = document.getElementById(id);
  const heading = part?.matches("h2, summary") ? part : part?.querySelector("h2, summary");
  part?.scrollIntoView();
  focusOn(heading ?? null);
}
