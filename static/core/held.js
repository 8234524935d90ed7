/**
 * All that is held about a report, on this tablet and at the depot, for its driver to keep.
 *
 * @import {Answer, DepotAnswer, OutboxRow, Receipt} from "./types.js"
 * @typedef {"both" | "silent" | "none" | "enrol"} Told why the depot's part is there or not
 * @typedef {{told: Told, depot: Record<string, unknown> | null}} DepotPart
 */

import { rfc3339 } from "./clock.js";

/**
 * @param {Answer | null} answer null: none came
 * @returns {DepotPart}
 */
export function depotPart(answer) {
  if (!answer?.ours) return { told: "silent", depot: null };
  if (answer.status === 401) return { told: "enrol", depot: null };
  if (answer.status === 404) return { told: "none", depot: null };
  try {
    const depot = JSON.parse(answer.text);
    if (answer.status === 200 && typeof depot?.report === "object") return { told: "both", depot };
  } catch {
    // Half an answer is none.
  }
  return { told: "silent", depot: null };
}

/**
 * @param {OutboxRow | Receipt} row as it lies on this tablet
 * @param {DepotAnswer | undefined} answered what the tablet keeps of the depot's answer
 * @param {DepotPart} part
 * @param {number} now
 */
export function heldText(row, answered, { told, depot }, now) {
  const all = {
    format: "step-in-hand/held", version: 1, read_at: rfc3339(now),
    tablet: { ...row, answer: answered ?? null },
    depot_asked: told, depot,
  };
  return JSON.stringify(all, null, 2);
}
