/**
 * A list of which the first lines stand open; a button shows the rest, and paper shows all.
 */

import { button, h } from "./dom.js";

/**
 * @param {HTMLElement[]} items
 * @param {{most: number, key: string, open: Set<string>, more: (n: number) => string, className?: string}} options
 *   open: keys of the lists that were opened; more: what the button says
 * @returns {HTMLElement}
 */
export function capped(items, { most, key, open, more, className = "" }) {
  const list = h("ul", { className }, ...items);
  if (items.length <= most || open.has(key)) return list;
  items.slice(most).forEach((one) => one.classList.add("beyond"));
  const rest = button(more(items.length - most), () => {
    open.add(key);
    items.forEach((one) => one.classList.remove("beyond"));
    rest.remove();
    items[most].tabIndex = -1;
    items[most].focus({ preventScroll: true });
  }, "rest-of");
  rest.dataset.key = key;
  return h("div", {}, list, rest);
}
