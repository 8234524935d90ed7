/**
 * A pack's own names and words in the language of the tablet, where the pack has them. Keys,
 * places and figures stay: only what is shown as it stands is put in other words.
 *
 * @import {Base} from "./types.js"
 */

import { SPOKEN } from "./agreed.js";

/**
 * @param {Base} base
 * @param {string} language
 * @returns {Base} the same object where the pack has no names in it
 */
export function namedIn(base, language) {
  const names = base.names_in?.[language];
  if (!names) return base;
  const say = (/** @type {string} */ text) => (Object.hasOwn(names, text) ? names[text] : text);
  const said = SPOKEN.reduce((now, path) => /** @type {Base} */ (put(now, path.split("."), say)), base);
  return { ...said, spoken: language };
}

/**
 * What the pack itself calls something that is shown: the same in every language, to compare by.
 * @param {Pick<Base, "names_in" | "spoken">} base
 * @param {string} text
 */
export function ownWords({ names_in, spoken }, text) {
  const names = Object.entries((spoken && names_in?.[spoken]) || {});
  return names.find(([, said]) => said === text)?.[0] ?? text;
}

/**
 * @param {any} value
 * @param {string[]} path names of fields; lists on the way are gone through
 * @param {(text: string) => string} say
 * @returns {any} a copy with what lies at the path said; what is missing stays missing
 */
function put(value, path, say) {
  if (Array.isArray(value)) return value.map((one) => put(one, path, say));
  if (path.length === 0) return typeof value === "string" ? say(value) : value;
  const [name, ...rest] = path;
  if (value === null || typeof value !== "object" || !(name in value)) return value;
  return { ...value, [name]: put(value[name], rest, say) };
}
