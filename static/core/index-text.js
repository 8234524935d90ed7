/**
 * The signed index: whether its text is one, and whether it may follow the one held.
 *
 * @import {IndexRoute} from "./sync.js"
 * @typedef {{route: string, name: string, packs: string[], reason: string, at: string}} Withdrawn
 * @typedef {{serial: number, published_at: string | null, routes: IndexRoute[],
 *   withdrawn: Withdrawn[]}} SignedIndex
 * @typedef {{text: string, serial: number, withdrawn: Withdrawn[]}} HeldIndex what a tablet
 *   keeps of the newest index it believed
 * @typedef {"unsigned" | "wrongKey" | "altered" | "older" | "noCheck" | "full" | "damaged" |
 *   "unreadable"} Why
 */

import { expect, SHA } from "./sync.js";

/** Something of the depot's that this tablet will not take; what it has stays. */
export class Refused extends Error {
  /**
   * @param {Why} why
   * @param {string} [detail]
   */
  constructor(why, detail = "") {
    super(`refused, ${why}: ${detail}`);
    this.why = why;
  }
}

/**
 * Read the text under the signatures; only ever called once they fit.
 * @param {string} text
 * @returns {SignedIndex}
 */
export function signedIndex(text) {
  const index = parsed(text);
  const whole = Number.isSafeInteger(index.serial) && Array.isArray(index.routes)
    && index.routes.every((/** @type {any} */ route) => typeof route?.key === "string" && SHA.test(route.pack))
    && Array.isArray(index.withdrawn)
    && index.withdrawn.every((/** @type {any} */ one) => Array.isArray(one?.packs) && typeof one.reason === "string");
  if (!whole) throw new Refused("unreadable", "the index has not the shape of one");
  return index;
}

/** @param {string} text */
function parsed(text) {
  try {
    const index = JSON.parse(text);
    expect(index, "step-in-hand/index");
    return index;
  } catch (error) {
    throw new Refused("unreadable", String(error));
  }
}

/**
 * An older index would bring back what was withdrawn; so would another one that took the
 * same number.
 * @param {HeldIndex | null} held
 * @param {SignedIndex} index
 * @param {string} text
 */
export function checkFollows(held, index, text) {
  if (!held || index.serial > held.serial) return;
  if (index.serial === held.serial && text === held.text) return;
  throw new Refused("older", `serial ${index.serial}, held ${held.serial}`);
}

/**
 * Why no advice may come from a pack; null when it may.
 * @param {Withdrawn[]} withdrawn
 * @param {string} sha
 * @returns {Withdrawn | null}
 */
export function withdrawal(withdrawn, sha) {
  return withdrawn.find((one) => one.packs.includes(sha)) ?? null;
}
