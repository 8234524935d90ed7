/**
 * The catalogue in the language this tablet is set to, and no other: each file read is a
 * wait of the first card. It is chosen once, at the start: another language is a new start,
 * so no page ever stands in two.
 */

/** @typedef {typeof import("./en.js").words} Words */
const CATALOGUES = {
  en: /** @returns {Promise<{words: Words}>} */ () => import("./en.js"),
  de: /** @returns {Promise<{words: Words}>} */ () => import("./de.js"),
};
/** Each under its own name. */
export const LANGUAGES = { en: "English", de: "Deutsch" };

/** @returns {keyof typeof LANGUAGES} */
function kept() {
  try {
    return localStorage.getItem("sih-language") === "de" ? "de" : "en";
  } catch {
    return "en"; // storage is closed to us
  }
}

export const { words } = await CATALOGUES[kept()]();
document.documentElement.lang = words.language.code;
