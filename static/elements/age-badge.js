/**
 * How old something is, in words that are worked out again at each paint.
 */

import { ageWords, whenWords } from "../core/age.js";
import { words } from "../words/chosen.js";
import { h } from "./dom.js";

const REPAINT_MS = 20_000;

class AgeBadge extends HTMLElement {
  /** @type {number | null} */
  #then = null;
  /** @type {ReturnType<typeof setInterval> | undefined} */
  #timer;

  set since(/** @type {number | null} */ value) {
    this.#then = value;
    this.#paint();
  }

  connectedCallback() {
    this.#timer = setInterval(() => this.#paint(), REPAINT_MS);
    document.addEventListener("visibilitychange", this.#paint);
    this.#paint();
  }

  disconnectedCallback() {
    clearInterval(this.#timer);
    document.removeEventListener("visibilitychange", this.#paint);
  }

  #paint = () => {
    const now = Date.now();
    const parts = this.#then === null ? [] : [whenWords(this.#then, now), ageWords(this.#then, now, words.figures)];
    this.textContent = parts.filter((part) => part !== "").join(", ");
  };
}

customElements.define("age-badge", AgeBadge);

/** @param {number | null} then */
export function ageBadge(then) {
  const badge = /** @type {AgeBadge} */ (/** @type {unknown} */ (h(/** @type {any} */ ("age-badge"))));
  badge.since = then;
  return badge;
}
