/**
 * The depot's answers to reports, read with care: what is not understood is not shown.
 *
 * @import {Answer, DepotAnswer} from "./types.js"
 * @typedef {typeof import("../words/en.js").words} Words
 */

/**
 * @param {Answer} answer
 * @returns {Record<string, DepotAnswer> | null} by report; null: nothing to be learnt from it
 */
export function answersIn({ status, text, ours }) {
  if (status !== 200 || !ours) return null;
  let items;
  try {
    items = JSON.parse(text).items;
  } catch {
    return null;
  }
  if (!Array.isArray(items)) return null;
  return Object.fromEntries(items.filter(sound).map(({ report, kind, trains, at }) => [report, { kind, trains, at }]));
}

/** @param {any} one */
function sound(one) {
  if (typeof one?.report !== "string" || Number.isNaN(Date.parse(one.at))) return false;
  return one.kind === "reviewed" || (one.kind === "warned" && Number.isInteger(one.trains) && one.trains >= 0);
}

/**
 * @param {DepotAnswer | undefined} answer
 * @param {Words} w
 * @returns {string | null}
 */
export function answerWords(answer, w) {
  if (!answer) return null;
  return answer.kind === "warned" ? w.outbox.warned(answer.trains ?? 0) : w.outbox.reviewed;
}
