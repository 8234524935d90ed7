/**
 * Asking the depot to prove that it is the one whose key this tablet keeps.
 *
 * @import {Contact} from "../core/types.js"
 * @import {Proof} from "../core/proof.js"
 */

import { contactOf } from "../core/answer.js";
import { Refused } from "../core/index-text.js";
import { proofOf } from "../core/proof.js";
import { jsonOf } from "../core/sync.js";
import { get } from "./api.js";
import { transact } from "./idb.js";
import { keep, recall } from "./keep.js";
import { checkSigned, pinnedKey } from "./verify.js";

/** Kept once a depot has proven itself: from then on it is asked to each time. */
export const PROVEN = "proven";

/**
 * @returns {Promise<{proof: Proof | null, contact: Contact, older: boolean}>} contact says why
 *   there is no proof; older: a depot of before, which cannot be asked
 */
export async function askProof() {
  const nonce = crypto.randomUUID();
  const none = (/** @type {Contact} */ contact) => ({ proof: null, contact, older: false });
  try {
    const answer = await get(`/api/proof?n=${nonce}`);
    if (answer.status === 404 && answer.ours) return { ...none("stranger"), older: !(await recall(PROVEN)) };
    if (answer.status >= 500 && answer.status !== 511) return none("fault");
    const body = jsonOf(answer);
    if (answer.status !== 200 || !answer.ours || !body) return none("portal");
    const pinned = await transact(["kv"], "readonly", pinnedKey);
    await checkSigned(body, pinned, askKeys);
    const proof = proofOf(body.signed, nonce);
    if (!proof) return none("stranger");
    await keep(PROVEN, true);
    return { proof, contact: "online", older: false };
  } catch (error) {
    if (error instanceof Refused) return none(error.why === "noCheck" ? "fault" : "stranger");
    return none(contactOf(error));
  }
}

/**
 * Whether a depot that cannot be asked for a proof at least serves an index under the key
 * that is kept here.
 * @returns {Promise<Contact | null>} null: it does
 */
export async function servesOurIndex() {
  try {
    const answer = await get("/api/index");
    if (answer.status !== 200 || !answer.ours) return answer.status >= 500 ? "fault" : "portal";
    await checkSigned(jsonOf(answer), await transact(["kv"], "readonly", pinnedKey), askKeys);
    return null;
  } catch (error) {
    return error instanceof Refused ? "stranger" : contactOf(error);
  }
}

export async function askKeys() {
  return jsonOf(await get("/api/keys"));
}
