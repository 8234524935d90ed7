/**
 * The catalogue in the language this tablet is set to. It is chosen once, at the start:
 * another language is a new start, so no page ever stands in two.
 *
 * Both are read, though one is shown: to wait for one here (`await` at the top of a module)
 * lets WebKit, and so every iPad, open pages whose words are not there yet.
 */

import { layOver } from "../core/fixed-words.js";
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

const own = CATALOGUES[kept()];
/** The parts that hold W1 to W10 are copies: the company's words are laid over them. */
export const words = {
  ...own, language: { ...own.language }, frame: { ...own.frame }, card: { ...own.card },
  warnings: { ...own.warnings }, report: { ...own.report }, slide: { ...own.slide },
};

/**
 * Take the fixed words of the pack in use; without one the app's own stand.
 * @param {import("../core/types.js").Base | null} base
 */
export function takeFixedWords(base) {
  layOver(words, own, base);
}

document.documentElement.lang = words.language.code;
