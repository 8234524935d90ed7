/**
 * How old something is, in words that are worked out again at each paint.
 *
 * @import {FigureWords} from "../core/format.js"
 */

import { ageWords, whenWords } from "../core/age.js";
import { h } from "./dom.js";

const REPAINT_MS = 20_000;

class AgeBadge extends HTMLElement {
  /** @type {number | null} */
  #then = null;
  /** @type {FigureWords | undefined} */
  #words;
  /** @type {ReturnType<typeof setInterval> | undefined} */
  #timer;

  /**
   * @param {number | null} then
   * @param {FigureWords} words
   */
  tell(then, words) {
    this.#then = then;
    this.#words = words;
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
    if (this.#then === null || !this.#words) return this.replaceChildren();
    const age = ageWords(this.#then, now, this.#words);
    // On paper it would be untrue a minute later: the sheet leaves it out.
    this.replaceChildren(whenWords(this.#then, now), age && h("span", { className: "age" }, `, ${age}`));
  };
}

customElements.define("age-badge", AgeBadge);

/**
 * @param {number | null} then
 * @param {FigureWords} words
 */
export function ageBadge(then, words) {
  const badge = /** @type {AgeBadge} */ (/** @type {unknown} */ (h(/** @type {any} */ ("age-badge"))));
  badge.tell(then, words);
  return badge;
}
