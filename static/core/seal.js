/**
 * What the tablet shows and holds, sealed at a stand after an incident: plain texts and whole
 * numbers with a hash over their canonical bytes. No name and no free words are in it.
 *
 * @import {State} from "../data/store.js"
 * @typedef {{id: string, rev: number}} Held
 * @typedef {{sealed_at: string, app_build: string, route: string | null, pack: string | null,
 *   warnings: Held[], restrictions: Held[], card: string[], preparation: Record<string, string | number | boolean | null>,
 *   clock_offset_s: number | null, unsent: string[]}} Sealed
 */

import { LONGEST_LINE, MOST_ANSWER, MOST_SEALED } from "./agreed.js";
import { rfc3339 } from "./clock.js";
import { reportsOf } from "./rows.js";

/**
 * The canonical text of RFC 8785: keys in the order of their UTF-16 units, and numbers and
 * strings as this language writes them, which is what that RFC asks for.
 * @param {unknown} value
 * @returns {string}
 */
export function canonical(value) {
  if (Array.isArray(value)) return `[${value.map(canonical).join(",")}]`;
  if (value === null || typeof value !== "object") return JSON.stringify(value);
  const record = /** @type {Record<string, unknown>} */ (value);
  return `{${Object.keys(record).toSorted().map((key) => `${JSON.stringify(key)}:${canonical(record[key])}`).join(",")}}`;
}

/**
 * @param {Pick<State, "view" | "pack" | "prep" | "warnings" | "restrictions" | "rows" | "clockOffset">} state
 * @param {string[]} card as it is shown
 * @param {string} build
 * @param {number} now
 * @returns {Sealed}
 */
export function sealed({ view, pack, prep, warnings, restrictions, rows, clockOffset }, card, build, now) {
  const used = view?.pack ?? pack;
  return {
    sealed_at: rfc3339(now),
    app_build: build,
    route: used?.base.route.key ?? null,
    pack: used?.sha ?? null,
    warnings: held(warnings.rows),
    restrictions: held(restrictions.rows),
    card: card.map((one) => one.trim().slice(0, LONGEST_LINE)).filter(Boolean),
    preparation: prep ? answers(prep) : {},
    clock_offset_s: clockOffset === null ? null : Math.round(clockOffset / 1000),
    unsent: reportsOf(rows).map(({ id }) => id).slice(0, MOST_SEALED),
  };
}

/**
 * @param {{id: string, rev?: number}[]} rows
 * @returns {Held[]}
 */
function held(rows) {
  return rows.flatMap(({ id, rev }) => (Number.isInteger(rev) ? [{ id, rev: Number(rev) }] : []))
    .toSorted((a, b) => (a.id < b.id ? -1 : 1)).slice(0, MOST_SEALED);
}

/** @param {import("./types.js").Prep} prep */
function answers({ trip, formation, isolated, state, stateAt, trainChanged, wsp, sand, brakeTest, off, signs }) {
  const all = {
    trip, formation, cars_isolated: isolated, rail_state: state,
    rail_state_chosen: state === null ? null : rfc3339(stateAt), train_changed: trainChanged,
    wheel_slide_protection: wsp, sand, brake_test: brakeTest, advice_off: off, signs: signs?.join(", "),
  };
  return Object.fromEntries(Object.entries(all).map(([key, answer]) => [key, plain(answer)]));
}

/** @param {string | number | boolean | null | undefined} answer */
function plain(answer) {
  if (typeof answer === "string") return answer.slice(0, MOST_ANSWER) || null;
  return answer ?? null;
}
