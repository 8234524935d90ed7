/**
 * The code that enrols a tablet: eight letters that are secret, then eight that name the
 * depot's key, so that the tablet knows whom it speaks to before it says anything.
 */

/** As in webapp/codes.py: none that look or sound alike. */
const LETTERS = "ABCDEFGHJKMNPQRSTUVWXYZ23456789";
export const SECRET = 8;
const NAMED = 8;
/** So much of the key's id is named: 64 bits, of which eight letters hold 39. */
const DIGITS = 16;

/**
 * Whether a typed code names this key. A code without a name is no code of this version: the
 * depot refuses it.
 * @param {string} typed any case, with dashes or blanks
 * @param {string} keyId sha-256 in hexadecimal
 * @returns {boolean}
 */
export function namesKey(typed, keyId) {
  const named = typed.toUpperCase().replace(/[^A-Z0-9]/g, "").slice(SECRET);
  return named === "" || named === nameOf(keyId);
}

/**
 * @param {string} keyId
 * @returns {string} the letters that stand for a key in a code
 */
export function nameOf(keyId) {
  let rest = BigInt(`0x${keyId.slice(0, DIGITS)}`);
  let name = "";
  for (let place = 0; place < NAMED; place++) {
    name = LETTERS[Number(rest % 31n)] + name;
    rest /= 31n;
  }
  return name;
}
