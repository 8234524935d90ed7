/**
 * The code that enrols a tablet: eight letters that are secret, then eight that name the
 * depot's key, so that the tablet knows whom it speaks to before it says anything.
 */

import { KEY_DIGITS, KEY_LETTERS, LETTERS, SECRET_LETTERS } from "./agreed.js";

/**
 * Whether a typed code names this key. A code without a name is no code of this version: the
 * depot refuses it.
 * @param {string} typed any case, with dashes or blanks
 * @param {string} keyId sha-256 in hexadecimal
 * @returns {boolean}
 */
export function namesKey(typed, keyId) {
  const named = typed.toUpperCase().replace(/[^A-Z0-9]/g, "").slice(SECRET_LETTERS);
  return named === "" || named === nameOf(keyId);
}

/**
 * @param {string} keyId
 * @returns {string} the letters that stand for a key in a code
 */
export function nameOf(keyId) {
  let rest = BigInt(`0x${keyId.slice(0, KEY_DIGITS)}`);
  const letters = BigInt(LETTERS.length);
  let name = "";
  for (let place = 0; place < KEY_LETTERS; place++) {
    name = LETTERS[Number(rest % letters)] + name;
    rest /= letters;
  }
  return name;
}
