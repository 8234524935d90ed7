/**
 * What the depot signs when it is asked whether it is there: the word it was given, its time,
 * and the index that stands.
 *
 * @typedef {{at: number, index: string}} Proof its time; sha-256 of the index's signed text
 */

import { expect } from "./sync.js";

/**
 * Read the text under the signatures; only ever called once they fit.
 * @param {string} text
 * @param {string} nonce
 * @returns {Proof | null} null: it answers another question, whoever asked that
 */
export function proofOf(text, nonce) {
  try {
    const said = JSON.parse(text);
    expect(said, "step-in-hand/proof");
    const at = Date.parse(said.at);
    return said.n === nonce && !Number.isNaN(at) && typeof said.index === "string" ? { at, index: said.index } : null;
  } catch {
    return null;
  }
}
