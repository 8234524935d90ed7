/**
 * The top of the Brief: what changed since the last one, the worst stops, where a running
 * brake test is due, signals to stop short of.
 *
 * @import {Store, State} from "../data/store.js"
 * @import {NewFigures} from "../core/new-figures.js"
 * @import {TripView} from "../core/types.js"
 */

import { adviceLines, barWords, textOf } from "../core/card.js";
import { changeOf, scopeOf, shownOf } from "../core/changed.js";
import { worstRows } from "../core/duty.js";
import { placeAlong } from "../core/format.js";
import { inferredWords } from "../core/inferred.js";
import { changedStops } from "../core/new-figures.js";
import { nothingNew, seenNow, since } from "../core/since.js";
import { h, radios } from "../elements/dom.js";
import { words } from "../words/chosen.js";

const p = words.prepare;
const WORST = 3;

/** @param {State} state */
export function sincePart({ view, pack, prep, warnings, newFigures }) {
  if (!view || !pack || !prep) return null;
  const { base, direction } = view;
  const now = seenNow(base, pack.sha, warnings.rows);
  const found = since(prep.since, now, direction.key);
  const place = (/** @type {{state: string, from: number, to: number}} */ one) => {
    const name = base.states.find((state) => state.key === one.state)?.name ?? words.warnings.unknownState;
    const [from, to] = [one.from, one.to].map((at) => (Number.isFinite(at) ? placeAlong(at, base.route.distance_unit, words.figures) : ""));
    return words.warnings.head(name, from && to ? words.warnings.between(from, to) : words.warnings.unknownPlace);
  };
  const lines = found.first ? [p.sinceFirst] : nothingNew(found) ? [p.sinceNothing] : [
    ...found.added.map((id) => p.sinceAdded(place(now.warnings[id]))),
    ...found.amended.map((id) => p.sinceAmended(place(now.warnings[id]))),
    ...found.gone.map((one) => p.sinceGone(place(one))),
    ...found.listed.map(p.sinceListed),
    ...found.unlisted.map(p.sinceUnlisted),
    ...(found.pack ? newPackLines(view, newFigures[base.route.key], prep.since?.pack) : []),
  ];
  return h("section", { className: "since" }, h("h2", {}, p.since), h("ul", {}, ...lines.map((text) => h("li", {}, text))));
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
export function changesPart({ view, prep, shownCards }) {
  if (!view || !prep) return null;
  const w = words.card.changed;
  const scope = scopeOf(prep);
  const lines = view.calls.flatMap((row) => {
    const change = changeOf(shownCards, { scope, key: row.target.key, shown: shownOf(view, row) }, w);
    return change ? [h("li", {}, h("strong", {}, row.target.name), `: ${w.since(change.since, change.what)}`)] : [];
  });
  return lines.length > 0 && h("ul", { className: "changes" }, ...lines);
}

/** @param {TripView} view */
export function worstPart(view) {
  const rows = view.withdrawn || view.bar ? [] : worstRows(view.base, view.rows, view.train, WORST);
  if (rows.length === 0 || !view.train) return null;
  return h(
    "section",
    { className: "worst" },
    h("h2", {}, p.worst),
    h("ol", {}, ...rows.map((row) => {
      const [first, ...others] = adviceLines(view.base, row, view.train, words.card).map(textOf);
      const why = row.bar ? ` (${barWords(row.bar, words.card)})` : "";
      const state = row.state > view.state ? ` (${view.base.states[row.state].name.toLowerCase()})` : "";
      return h("li", {}, h("strong", {}, row.target.name), `${state}: ${first.replace(/\.$/, "")}${why}. `, others.slice(0, 1).join(""));
    })),
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
