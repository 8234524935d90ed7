/**
 * A mark outside the storage, by which the app notices that its storage was emptied: the
 * system may take all of it, silently, when the tablet is short of space. The mark is only
 * a number, kept twice (cookie and local storage) since one of the two often stays behind.
 */

import { keep, recall } from "./keep.js";

const NAME = "sih-unsent";
const YEAR_S = 365 * 86_400;

/**
 * @returns {Promise<{unsent: number} | null>} how many reports were unsent when the storage
 *   was last seen whole; null when nothing is missing
 */
export async function storageEmptied() {
  if (await recall("began")) return null;
  const marks = [fromCookie(), fromLocal()].filter((one) => one !== null);
  return marks.length > 0 ? { unsent: Math.max(...marks) } : null;
}

/**
 * From now on an empty storage means that it was emptied.
 * @param {number} unsent
 */
export async function markStorage(unsent) {
  if (!(await recall("began"))) await keep("began", Date.now());
  setMark(unsent);
}

/** @param {number} unsent */
export function setMark(unsent) {
  document.cookie = `${NAME}=${unsent}; path=/; max-age=${YEAR_S}; SameSite=Strict`;
  try {
    localStorage.setItem(NAME, String(unsent));
  } catch {
    // Full or forbidden: the cookie is enough.
  }
}

function fromCookie() {
  const found = document.cookie.split("; ").find((one) => one.startsWith(`${NAME}=`));
  return numberOf(found?.slice(NAME.length + 1));
}

function fromLocal() {
  try {
    return numberOf(localStorage.getItem(NAME));
  } catch {
    return null;
  }
}

/** @param {string | null | undefined} text */
function numberOf(text) {
  return text && /^\d+$/.test(text) ? Number(text) : null;
}
