/**
 * The catalogue in the language this tablet is set to. It is chosen once, at the start:
 * another language is a new start, so no page ever stands in two.
 *
 * Both are read, though one is shown: to wait for one here (`await` at the top of a module)
 * lets WebKit, and so every iPad, open pages whose words are not there yet.
 */

import { words as de } from "./de.js";
import { words as en } from "./en.js";

const CATALOGUES = { en, de };
/** Each under its own name. */
export const LANGUAGES = { en: "English", de: "Deutsch" };

/** @returns {keyof typeof CATALOGUES} */
function kept() {
  try {
    return localStorage.getItem("sih-language") === "de" ? "de" : "en";
  } catch {
    return "en"; // storage is closed to us
  }
}

export const words = CATALOGUES[kept()];
document.documentElement.lang = words.language.code;
