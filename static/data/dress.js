/**
 * How this tablet's screen is set. Kept where theme.js finds it before the first paint,
 * when no database is open yet.
 *
 * @import {Store, State} from "./store.js"
 * @typedef {{theme?: State["theme"], hand?: "left" | "right", mm?: number, eye?: number, language?: string}} Dress
 */

const KEYS = { theme: "sih-theme", hand: "sih-hand", mm: "sih-px-per-mm", eye: "sih-eye-mm", language: "sih-language" };

/** @returns {{theme: State["theme"], hand: "left" | "right", mm: number, eye: number}} as it is now */
export function dressed() {
  const root = document.documentElement;
  const style = getComputedStyle(root);
  return {
    theme: /** @type {State["theme"]} */ (root.dataset.theme ?? "auto"),
    hand: root.dataset.hand === "left" ? "left" : "right",
    mm: Number.parseFloat(style.getPropertyValue("--mm")),
    eye: Number.parseFloat(style.getPropertyValue("--eye")),
  };
}

/** @param {Store} store */
export function dressing(store) {
  return {
    /** @param {Dress} change */
    dress(change) {
      for (const [name, value] of Object.entries(change)) {
        localStorage.setItem(KEYS[/** @type {keyof typeof KEYS} */ (name)], String(value));
      }
      dispatchEvent(new Event("sih-dress"));
      store.set({ theme: dressed().theme });
      if (change.language) location.reload();
    },
  };
}

/**
 * The light follows the depot's clock where that is known.
 * @param {Store} store
 */
export function rememberClock(store) {
  store.subscribe(({ clockOffset }, before) => {
    if (clockOffset === null || clockOffset === before.clockOffset) return;
    localStorage.setItem("sih-clock", String(clockOffset));
    dispatchEvent(new Event("sih-dress"));
  });
}
