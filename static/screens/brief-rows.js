/**
 * The road ahead: one row for each stop and each reduction, with the picture behind it; plain
 * ones that follow one another in a row that opens.
 *
 * @import {Child} from "../elements/dom.js"
 * @import {Row, TripView} from "../core/types.js"
 * @import {RowWords, Run} from "../core/road.js"
 */

import { adhesionWords, placeAlong, dialSpeed, shortWords, speedWords } from "../core/format.js";
import { inferredWords } from "../core/inferred.js";
import { drawnApproach } from "../core/picture.js";
import { isRoomSmall, isRoomSmallHere, roadParts, rowWords, runWords } from "../core/road.js";
import { ALL_THE_WAY, FLAG_LESS_COVER, FLAG_NOTHING_ADDED, FLAG_NO_ROOM, FLAG_NO_STATE_IN_HAND, FLAG_WSP, OK, isAdvised } from "../core/table.js";
import { openPictures } from "../data/packs.js";
import { chart, summary } from "../elements/chart.js";
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
    ...roadParts(view).map((part) => ("rows" in part ? runItem(view, part, open) : item(view, part, open))),
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
 * Plain stops in one row that opens. What is inside is on the page all the same, for the sheet
 * that is printed. News may divide a run: what was in sight stays in sight.
 * @param {TripView} view
 * @param {Run} run
 * @param {Set<string>} open
 */
function runItem(view, run, open) {
  const keys = run.rows.map((row) => `run:${row.target.key}`);
  const id = `run-${keys[0].replaceAll(/\W/g, "-")}`;
  const control = h(
    "button",
    { type: "button", className: "run-head", "data-key": keys[0], "aria-controls": id },
    ...head(runWords(view, run, words)),
  );
  const inside = h("ol", { className: "stretch", id }, ...run.rows.map((row) => item(view, row, open)));
  const whole = h("li", { className: `run ${run.marked > 0 ? "changed" : "plain"}` }, control, inside);
  const show = (/** @type {boolean} */ on) => {
    for (const key of keys) {
      if (on) open.add(key);
      else open.delete(key);
    }
    whole.classList.toggle("open", on);
    control.setAttribute("aria-expanded", String(on));
  };
  control.addEventListener("click", () => show(!whole.classList.contains("open")));
  show(keys.some((key) => open.has(key)));
  return whole;
}

/**
 * @param {TripView} view
 * @param {Row} row
 * @param {Set<string>} open
 */
function item(view, row, open) {
  const plain = row.advice.status === OK && Boolean(row.advice.flags & FLAG_NOTHING_ADDED);
  const inside = h("div", { className: "inside" });
  const details = h("details", { className: "row" }, h("summary", { "data-key": row.target.key }, ...head(rowWords(view, row, words))), inside);
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
 * @param {RowWords} what
 * @returns {Child[]}
 */
function head({ when, name, notes, lines }) {
  return [
    h("span", { className: "when" }, when),
    h(
      "span",
      { className: "where" },
      h("strong", {}, name),
      notes.length > 0 ? h("span", { className: "note" }, ` ${notes.join(", ")}`) : null,
    ),
    h("span", { className: "how" }, ...lines.map(({ kind, text, more }) =>
      h("span", { className: `part ${kind} ${more ? "more" : ""}` }, glued(text), " "))),
  ];
}

/**
 * A number stays with its word when the line wraps.
 * @param {string} text
 */
export function glued(text) {
  return text.replace(/(\d[¼½¾]?|[¼½¾]) (?=\p{L})/gu, "$1\u00a0").replace(/(?<=step|Stufe|signal|by) (?=[\d¼½¾])/g, "\u00a0");
}

/**
 * What stands behind a row: picture, plan in words, cover in the words that are allowed.
 * @param {TripView} view
 * @param {Row} row
 * @param {HTMLElement} inside
 */
async function behind(view, row, inside) {
  const figure = h("figure", { className: "picture" });
  const guessed = inferred(view, row);
  fill(inside, figure, guessed && h("p", { className: "note" }, guessed), ...plan(view, row).map((line) => h("p", {}, line)), where(view, row));
  const { trainIndex, train, base, pack, withdrawn } = view;
  if (trainIndex === null || !train || withdrawn) return;
  // No advice, no curve: a picture would say more than the card.
  if (!isAdvised(row.advice)) return;
  const pictures = await openPictures(pack, train.key);
  const cell = { target: row.targetIndex, train: trainIndex, state: row.state, season: row.season };
  const drawn = pictures && drawnApproach(base, pack.table, pictures, cell, row.advice);
  if (!drawn) return fill(figure, h("p", { className: "note" }, w.noPicture));
  const worse = row.advice.worse && drawnApproach(base, pack.table, pictures, { ...cell, state: row.state + 1 }, row.advice.worse);
  const picture = { base, row, trainIndex, drawn, worse: worse?.advised ?? null, words: words.chart };
  fill(figure, chart(picture), h("figcaption", {}, summary(picture)), beginsTable(picture));
}

/**
 * What the picture shows, as a table: where each approach begins.
 * @param {import("../elements/chart.js").Picture} picture
 */
function beginsTable({ base, row, drawn, worse }) {
  const c = words.chart;
  const plain = row.advice.flags & FLAG_NOTHING_ADDED;
  const rows = [
    { name: c.planned, curve: drawn.advised, mark: plain ? "" : (row.advice.mark?.words ?? "") },
    { name: c.worse, curve: worse, mark: row.advice.worse?.mark?.words ?? "" },
    { name: c.usual, curve: drawn.usual, mark: "" },
  ];
  return h(
    "table",
    { className: "begins" },
    h("thead", {}, h("tr", {}, ...["", c.begins, c.before].map((name) => (name ? h("th", { scope: "col" }, name) : h("td"))))),
    h("tbody", {}, ...rows.flatMap(({ name, curve, mark }) => (curve
      ? [h("tr", {}, h("th", { scope: "row" }, name), h("td", {}, mark), h("td", {}, shortWords(curve.begins, base.route.distance_unit, words.figures)))]
      : []))),
  );
}

/**
 * Beside the picture: what of this approach, from its beginning to its limit, nobody surveyed.
 * @param {TripView} view
 * @param {Row} row
 */
function inferred({ base, direction, trainIndex }, { target }) {
  const mark = trainIndex === null ? null : target.mark_m[trainIndex];
  if (trainIndex === null || mark === null) return null;
  const begins = mark - direction.sign * (target.reach_m[trainIndex] ?? 0);
  return inferredWords(base, direction.key, begins, target.limit_m[trainIndex] ?? mark, words);
}

/**
 * @param {TripView} view
 * @param {Row} row
 * @returns {string[]}
 */
function plan(view, row) {
  const { base, train, trainIndex, pack } = view;
  const advice = row.advice;
  if (!isAdvised(advice) || !train) return [];
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
  if (advice.flags & FLAG_NO_STATE_IN_HAND) lines.push(w.noStateInHand);
  if (advice.flags & FLAG_NO_ROOM) lines.push(w.nothingToSpare);
  return [...lines, ...coverWords(view, row)];
}

/**
 * A short patch has no figure; where hardly any room is the rule, the first screen says so.
 * @param {TripView} view
 * @param {Row} row
 */
function coverWords(view, row) {
  const { cover, slick, flags } = row.advice;
  if (!cover) return [w.coverNone];
  if (isRoomSmall(view.base, row)) return isRoomSmallHere(view) ? [] : [w.coverSmall];
  const mu = slick === null ? "" : adhesionWords(slick, words.figures);
  const said = cover === ALL_THE_WAY ? w.coverToLimit(mu) : w.cover(String(cover), mu);
  return flags & FLAG_LESS_COVER ? [said, w.coverLess] : [said];
}

/**
 * @param {TripView} view
 * @param {Row} row
 */
function where({ base, trainIndex }, row) {
  const mark = trainIndex === null ? null : row.target.mark_m[trainIndex];
  return mark === null ? null : h("p", { className: "note" }, placeAlong(mark, base.route.distance_unit, words.figures, true));
}
