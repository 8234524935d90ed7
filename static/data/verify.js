/**
 * The depot's signature under the index. The tablet keeps the first key it met and goes
 * over to another only when the one it keeps has signed for it.
 *
 * @typedef {{id: string, ed25519: string, p256: string}} Key public keys, base64
 * @typedef {{signed: string, key_id: string, sig_ed25519: string, sig_p256: string}} Signed
 */

import { Refused } from "../core/index-text.js";
import { expect } from "../core/sync.js";
import { done } from "./idb.js";

const KEPT = "depot_key";
const P256 = { name: "ECDSA", namedCurve: "P-256" };
const PARTS = /** @type {const} */ (["signed", "key_id", "sig_ed25519", "sig_p256"]);
/** RFC 8032, section 7.1, test 1: the signature of an empty text. */
const EXAMPLE = {
  key: "11qYAYKxCrfVS/7TyWQHOg7hcvPapiMlrwIaaPcHURo=",
  signature: "5VZDAMNgrHKQhuLMgG6CioSHfx645dl02HPgZSJJAVVfuIIVkKM7rMYeOXAc+bRr0lv18FlbviRlUUFDjnoQCw==",
};
/** @type {Promise<boolean> | null} */
let knowsEd25519 = null;

/**
 * Keep a key as the depot's. Enrolment calls this with the key it was handed; until a
 * tablet is enrolled so, the first index it meets does.
 * @param {IDBTransaction} tx over the store `kv`
 * @param {Key} key
 */
export async function pinKey(tx, key) {
  await done(tx.objectStore("kv").put(key, KEPT));
}

/**
 * @param {IDBTransaction} tx over the store `kv`
 * @returns {Promise<Key | null>} null before the first contact
 */
export async function pinnedKey(tx) {
  return (await done(tx.objectStore("kv").get(KEPT))) ?? null;
}

/**
 * Check the signature under an index.
 * @param {any} body the depot's answer
 * @param {Key | null} pinned
 * @param {() => Promise<any>} askKeys asks the depot for its public keys
 * @returns {Promise<Key>} the key it is signed with, to be kept from now on
 */
export async function checkSigned(body, pinned, askKeys) {
  if (!globalThis.crypto?.subtle) throw new Refused("noCheck");
  if (!PARTS.every((part) => typeof body?.[part] === "string" && body[part] !== "")) {
    throw new Refused("unsigned");
  }
  const key = pinned && pinned.id === body.key_id ? pinned : await follow(pinned, body.key_id, await askKeys());
  if (!(await fits(key, body))) throw new Refused("altered", "the signature does not fit");
  return key;
}

/**
 * Come from the key kept to the one in use, by hand-overs that each key before signed.
 * @param {Key | null} pinned
 * @param {string} wanted
 * @param {any} served
 * @returns {Promise<Key>}
 */
async function follow(pinned, wanted, served) {
  if (!pinned) {
    const first = await keyOf(served);
    if (first?.id !== wanted) throw new Refused("wrongKey", "the depot names another key");
    return first;
  }
  /** @type {Signed[]} */
  const statements = Array.isArray(served?.handovers) ? served.handovers : [];
  let key = pinned;
  // Each turn uses one statement of a finite list: a ring of them cannot hold it for ever.
  for (let turn = 0; turn < statements.length && key.id !== wanted; turn++) {
    const from = key.id;
    const statement = statements.find((one) => one?.key_id === from);
    if (!statement || !(await fits(key, statement))) break;
    key = (await handedOver(statement.signed, from)) ?? key;
  }
  if (key.id !== wanted) throw new Refused("wrongKey", `kept ${pinned.id}, used ${wanted}`);
  return key;
}

/**
 * @param {string} text
 * @param {string} from
 * @returns {Promise<Key | null>}
 */
async function handedOver(text, from) {
  const said = JSON.parse(text);
  expect(said, "step-in-hand/key-handover");
  const key = await keyOf({ ...said, key_id: said.to });
  return said.from === from ? key : null;
}

/**
 * @param {any} served
 * @returns {Promise<Key | null>} null unless the id is really that of both keys
 */
export async function keyOf(served) {
  const { key_id: id, ed25519, p256 } = served ?? {};
  if (typeof ed25519 !== "string" || typeof p256 !== "string") return null;
  const both = new Uint8Array([...bytes(ed25519), ...bytes(p256)]);
  const digest = new Uint8Array(await crypto.subtle.digest("SHA-256", both));
  const named = Array.from(digest, (byte) => byte.toString(16).padStart(2, "0")).join("");
  return named === id ? { id, ed25519, p256 } : null;
}

/**
 * @param {Key} key
 * @param {Signed} one
 */
async function fits(key, one) {
  const text = new TextEncoder().encode(one.signed);
  knowsEd25519 ??= fitsEd25519(EXAMPLE.key, EXAMPLE.signature, new Uint8Array()).catch(() => false);
  const check = (await knowsEd25519)
    ? fitsEd25519(key.ed25519, one.sig_ed25519, text)
    : fitsP256(key.p256, one.sig_p256, text);
  // A key or signature that cannot even be read does not fit.
  return check.catch(() => false);
}

/**
 * @param {string} key base64
 * @param {string} signature base64
 * @param {Uint8Array<ArrayBuffer>} text
 */
export async function fitsEd25519(key, signature, text) {
  const known = await crypto.subtle.importKey("raw", bytes(key), { name: "Ed25519" }, false, ["verify"]);
  return crypto.subtle.verify({ name: "Ed25519" }, known, bytes(signature), text);
}

/**
 * @param {string} key base64 of the uncompressed point
 * @param {string} signature base64 of r and s, 32 bytes each
 * @param {Uint8Array<ArrayBuffer>} text
 */
export async function fitsP256(key, signature, text) {
  const known = await crypto.subtle.importKey("raw", bytes(key), P256, false, ["verify"]);
  return crypto.subtle.verify({ name: "ECDSA", hash: "SHA-256" }, known, bytes(signature), text);
}

/**
 * @param {string} text base64
 * @returns {Uint8Array<ArrayBuffer>} empty when it is not base64: then no signature fits
 */
function bytes(text) {
  try {
    return Uint8Array.from(atob(text), (one) => one.charCodeAt(0));
  } catch {
    return new Uint8Array();
  }
}
