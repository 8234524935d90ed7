/**
 * The catalogue in the language this tablet is set to. It is chosen once, at the start:
 * another language is a new start, so no page ever stands in two.
 */

import { words as de } from "./de.js";
import { words as en } from "./en.js";

/** @type {Record<string, typeof en>} */
export const LANGUAGES = { en, de };

/** @returns {string} */
function kept() {
  try {
    return localStorage.getItem("sih-language") ?? "en";
  } catch {
    return "en"; // storage is closed to us
  }
}

export const words = LANGUAGES[kept()] ?? en;
document.documentElement.lang = words.language.code;
