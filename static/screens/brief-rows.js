/**
 * The road ahead: one row for each stop and each reduction, with the picture behind it.
 *
 * @import {Child} from "../elements/dom.js"
 * @import {Row, TripView} from "../core/types.js"
 */

import { adviceLines, barWords, isLowered, listedHere, textOf, warnedWords } from "../core/card.js";
import { firstMark } from "../core/trip.js";
import { adhesionWords, chainage, dialSpeed, shortWords, speedWords } from "../core/format.js";
import { ALL_THE_WAY, FLAG_LESS_COVER, FLAG_NOTHING_ADDED, FLAG_WSP, OK } from "../core/table.js";
import { openPictures } from "../data/packs.js";
import { chart } from "../elements/chart.js";
import { fill, h } from "../elements/dom.js";
import { words } from "../words/chosen.js";

const w = words.brief;

/**
 * @param {TripView} view
 * @param {Set<string>} open rows the driver has opened
 */
export function stopList(view, open) {
  return h(
    "ol",
    { className: "road" },
    origin(view),
    ...view.rows.map((row) => item(view, row, open)),
  );
}

/** @param {TripView} view */
function origin({ base, trip }) {
  const place = base.places.find((one) => one.key === trip.starts.place);
  return h(
    "li",
    { className: "origin" },
    h("p", { className: "when" }, trip.starts.depart ?? ""),
    h("p", { className: "where" }, place?.name ?? ""),
  );
}

/**
 * @param {TripView} view
 * @param {Row} row
 * @param {Set<string>} open
 */
function item(view, row, open) {
  const plain = row.advice.status === OK && Boolean(row.advice.flags & FLAG_NOTHING_ADDED);
  const inside = h("div", { className: "inside" });
  const details = h("details", { className: "row" }, h("summary", { "data-key": row.target.key }, ...head(view, row)), inside);
  const show = () => {
    if (details.open && inside.childElementCount === 0) behind(view, row, inside);
    if (details.open) open.add(row.target.key);
    else open.delete(row.target.key);
  };
  details.addEventListener("toggle", show);
  if (open.has(row.target.key)) {
    details.open = true;
    show();
  }
  return h("li", { className: `${row.kind} ${row.target.kind} ${plain ? "plain" : "changed"}` }, details);
}

/**
 * @param {TripView} view
 * @param {Row} row
 * @returns {Child[]}
 */
function head(view, row) {
  const { target, call } = row;
  const mark = row.kind === "reduction" ? firstMark(target) : null;
  const name = row.kind === "reduction" ? (target.words ?? target.name) : target.name;
  const place = [
    target.platform ? w.platform(target.platform) : "",
    mark === null ? "" : chainage(mark, view.base.route.distance_unit, words.figures),
    target.kind === "buffers" ? words.card.buffers.toLowerCase() : "",
    target.note ?? "",
    callNote(view, row),
    doorWords(view, row),
  ].filter((part) => part !== "");
  return [
    h("span", { className: "when" }, call?.arrive ?? call?.depart ?? ""),
    h(
      "span",
      { className: "where" },
      h("strong", {}, name),
      place.length > 0 ? h("span", { className: "note" }, ` ${place.join(", ")}`) : null,
    ),
    h(
      "span",
      { className: "how" },
      ...adviceLines(row, view.train, words.card).map((line) => h("span", { className: `part ${line.kind}` }, glued(textOf(line)), " ")),
      row.bar ? h("span", { className: "part" }, barWords(row.bar, words.card), " ") : null,
      // Stands where the speeds stand: with an opened row, and on the sheet that is printed.
      isLowered(row) ? h("span", { className: "part speeds" }, `${words.card.lowered} `) : null,
      ...warnedLines(row),
      ...listedLines(view, row),
    ),
  ];
}

/**
 * A note that begins with a number of cars is for a train of as many, and needless where the
 * pack itself says which doors stay shut.
 * @param {TripView} view
 * @param {Row} row
 */
function callNote(view, row) {
  const note = row.call?.note ?? "";
  const cars = /^(\d+) cars?:/.exec(note)?.[1];
  const other = cars !== undefined && (Number(cars) !== view.train?.cars || doorWords(view, row) !== "");
  return other ? "" : note;
}

/**
 * A short platform, for this train alone.
 * @param {TripView} view
 * @param {Row} row
 */
function doorWords({ base, train }, { target }) {
  const short = base.doors?.find((one) => one.target === target.key && one.cars === train?.cars);
  return short ? words.prepare.doors(short.open_front) : "";
}

/**
 * A number stays with its word when the line wraps.
 * @param {string} text
 */
function glued(text) {
  return text.replace(/(\d[¼½¾]?|[¼½¾]) (?=\p{L})/gu, "$1\u00a0").replace(/(?<=step|signal|by) (?=[\d¼½¾])/g, "\u00a0");
}

/** @param {Row} row */
function warnedLines({ warned }) {
  if (!warned) return [];
  const reason = warned.warning.reason ? `: ${warned.warning.reason}` : "";
  return [h("span", { className: "part listed warned" }, `${warnedWords(warned, words.card)}${reason} `)];
}

/**
 * @param {TripView} view
 * @param {Row} row
 */
function listedLines({ base, train }, row) {
  return listedHere(base, row, train).map((place) => {
    const state = base.states.find((one) => one.key === place.state)?.name ?? place.state;
    return h("span", { className: "part listed" }, `${state}, ${place.name}: ${place.reason} `);
  });
}

/**
 * What stands behind a row: picture, plan in words, cover in the words that are allowed.
 * @param {TripView} view
 * @param {Row} row
 * @param {HTMLElement} inside
 */
async function behind(view, row, inside) {
  const figure = h("figure", { className: "picture" });
  fill(inside, figure, ...plan(view, row).map((line) => h("p", {}, line)), where(view, row));
  const { trainIndex, train, base, pack, withdrawn } = view;
  if (trainIndex === null || !train || withdrawn) return;
  const pictures = await openPictures(pack, train.key);
  const drawing = pictures && chart({ base, row, trainIndex, pictures, words: words.chart });
  fill(figure, drawing ?? h("p", { className: "note" }, w.noPicture));
}

/**
 * @param {TripView} view
 * @param {Row} row
 * @returns {string[]}
 */
function plan({ base, train, trainIndex, pack }, row) {
  const advice = row.advice;
  if (advice.status !== OK || !train) return [];
  const unit = base.route.speed_unit;
  const steps = train.steps;
  const last = pack.table.columns.last_step[row.season][row.targetIndex][row.state][trainIndex ?? 0];
  const lastStep = words.card.step(steps[last]);
  const lines = [];
  if (Math.max(advice.step ?? 0, last) === steps.length - 1) lines.push(w.noStepInHand);
  if (advice.run_in) lines.push(w.runIn(speedWords(dialSpeed(advice.run_in, base.route.dial), unit), lastStep));
  if (advice.ease_at) lines.push(w.ease(speedWords(advice.ease_at, unit), lastStep));
  if (advice.aim_short) lines.push(w.aim(shortWords(advice.aim_short, base.route.distance_unit, words.figures)));
  if (advice.flags & FLAG_WSP) lines.push(w.wsp);
  lines.push(coverWords(advice.cover, advice.slick));
  if (advice.flags & FLAG_LESS_COVER) lines.push(w.coverLess);
  return lines;
}

/**
 * @param {number | null} cover
 * @param {number | null} slick
 */
function coverWords(cover, slick) {
  const mu = slick === null ? "" : adhesionWords(slick, words.figures);
  if (cover === ALL_THE_WAY) return w.coverToLimit(mu);
  return cover ? w.cover(String(cover), mu) : w.coverNone(mu);
}

/**
 * @param {TripView} view
 * @param {Row} row
 */
function where({ base, trainIndex }, row) {
  const mark = trainIndex === null ? null : row.target.mark_m[trainIndex];
  return mark === null ? null : h("p", { className: "note" }, chainage(mark, base.route.distance_unit, words.figures));
}
