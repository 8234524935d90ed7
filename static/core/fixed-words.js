/**
 * W1 to W10 as the company signed them, in the tablet's language; else the app's own. They
 * travel in the pack, so that a tablet shows the words of the pack it computes with.
 *
 * @import {Base} from "./types.js"
 * @typedef {typeof import("../words/en.js").words} Words
 */

/** What is put in while it is shown. A set in which one of these is missing is not taken. */
const PUT_IN = /** @type {Record<string, string[]>} */ ({ W5: ["{time}"], W9: ["{hours}", "{state}"] });
/** W2 and W3 are rules for words, no sentences of a screen. */
const SHOWN = ["W1", "W4", "W5", "W6", "W7", "W8", "W9", "W10"];
const LONGEST = 160;

/**
 * @param {Pick<Base, "words" | "signed_words"> | null} base null: no pack is in use
 * @param {string} language
 * @returns {Record<string, string>} by code
 */
export function signedWords(base, language) {
  const set = base?.signed_words?.[language] ?? (language === "en" ? base?.words : null) ?? {};
  const shown = SHOWN.filter((code) => code in set);
  const whole = shown.every((code) => {
    const text = /** @type {unknown} */ (set[code]);
    if (typeof text !== "string" || text.trim() === "" || text.length > LONGEST) return false;
    return (PUT_IN[code] ?? []).every((name) => text.includes(name));
  });
  return whole ? Object.fromEntries(shown.map((code) => [code, set[code]])) : {};
}

/**
 * Whether a company signed every one of them in a language.
 * @param {Pick<Base, "signed_words"> | null} base
 * @param {string} language
 */
export function allSigned(base, language) {
  const set = base?.signed_words?.[language] ?? {};
  return SHOWN.every((code) => code in set);
}

/**
 * The catalogue with the company's words in the place of the app's own.
 * @param {Words} words changed in place: every screen reads it when it draws
 * @param {Words} own the app's
 * @param {Pick<Base, "words" | "signed_words"> | null} base
 */
export function layOver(words, own, base) {
  const set = signedWords(base, own.language.code);
  const { W5, W9 } = set;
  Object.assign(words.frame, {
    w1: set.W1 ?? own.frame.w1,
    w8: set.W8 ?? own.frame.w8,
    w9: W9 === undefined ? own.frame.w9
      : (/** @type {string} */ hours, /** @type {string} */ state) => W9.replace("{hours}", () => hours).replace("{state}", () => state),
  });
  words.card.w6 = set.W6 ?? own.card.w6;
  words.warnings.w5 = W5 === undefined ? own.warnings.w5 : (time) => W5.replace("{time}", () => time);
  Object.assign(words.report, { w7: set.W7 ?? own.report.w7, w10: set.W10 ?? own.report.w10 });
  words.slide.w4 = set.W4 ?? own.slide.w4;
  words.language.unsigned = allSigned(base, own.language.code) ? "" : own.language.unsigned;
}
