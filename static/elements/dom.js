/**
 * Building pages out of elements and text; never out of markup in a string.
 *
 * @typedef {Node | string | null | undefined | false} Child
 */

/**
 * @template {keyof HTMLElementTagNameMap} K
 * @param {K} tag
 * @param {Record<string, unknown>} [props] on… are listeners, data-… and aria-… attributes,
 *   the rest properties
 * @param {...Child} children
 * @returns {HTMLElementTagNameMap[K]}
 */
export function h(tag, props = {}, ...children) {
  const element = document.createElement(tag);
  for (const [name, value] of Object.entries(props)) {
    if (value === undefined || value === null) continue;
    if (name.startsWith("on")) {
      element.addEventListener(name.slice(2), /** @type {EventListener} */ (value));
    } else if (name.includes("-") || name === "role" || name === "for") {
      element.setAttribute(name, String(value));
    } else {
      Object.assign(element, { [name]: value });
    }
  }
  element.append(...kept(children));
  return element;
}

/**
 * @param {Child[]} children
 * @returns {(Node | string)[]}
 */
function kept(children) {
  return children.flatMap((child) => (child ? [child] : []));
}

/**
 * @param {Element} root
 * @param {...Child} children
 */
export function fill(root, ...children) {
  root.replaceChildren(...kept(children));
}

/**
 * A set of radio buttons as a list of large rows. The chosen one is marked by a filled
 * shape and heavier type, not by colour.
 * @param {{name: string, legend: string, choices: {value: string, words: string, help?: string}[],
 *   value: string | null, pick: (value: string) => void, short?: boolean, written?: boolean}} options
 *   short: side by side where there is room; written: the page is drawn again once the answer
 *   is kept, and until then the former one stays chosen
 */
export function radios({ name, legend, choices, value, pick, short, written }) {
  const set = h(
    "fieldset",
    { className: short ? "choices short" : "choices", name },
    h("legend", {}, legend),
    ...choices.map((choice) =>
      h(
        "label",
        { className: "choice" },
        h("input", {
          type: "radio",
          name,
          value: choice.value,
          checked: choice.value === value,
          onchange: () => {
            if (written) stayAs(set, value);
            pick(choice.value);
          },
        }),
        h("span", { className: "choice-words" }, choice.words),
        choice.help ? h("span", { className: "choice-help" }, choice.help) : null,
      ),
    ),
  );
  return set;
}

/**
 * @param {Element} set of radio buttons
 * @param {string | null} value the one chosen
 */
function stayAs(set, value) {
  for (const one of set.querySelectorAll("input")) one.checked = one.value === value;
}

/**
 * @param {string} words
 * @param {boolean} checked
 * @param {(on: boolean) => void} change
 * @param {string} [name] tells it from the others when the page is drawn again, which it is
 *   once the answer is kept: until then the former one stands
 */
export function tick(words, checked, change, name = "") {
  const input = h("input", { type: "checkbox", checked, name });
  input.addEventListener("change", () => {
    const on = input.checked;
    if (name) input.checked = checked;
    change(on);
  });
  return h("label", { className: "choice" }, input, h("span", { className: "choice-words" }, words));
}

/**
 * @param {string} words
 * @param {(event: Event) => void} press
 * @param {string} [className]
 */
export function button(words, press, className = "") {
  return h("button", { type: "button", className, onclick: press }, words);
}

/**
 * Draw again without taking the reader's place from him: focus and scroll stay. Where what had
 * the focus is gone, as after "Change", the page's heading takes it: never the body.
 * @param {Element} root
 * @param {() => Child[]} build
 */
export function redraw(root, build) {
  const was = root.contains(document.activeElement) ? document.activeElement : null;
  const key = keyOf(was);
  const top = document.scrollingElement?.scrollTop ?? 0;
  fill(root, ...build());
  const controls = [...root.querySelectorAll("input, button, select, summary, textarea")];
  const heir = key === null ? undefined : controls.find((one) => keyOf(one) === key);
  if (was) focusOn(heir ?? root.querySelector("h1, h2"));
  document.scrollingElement?.scrollTo(0, top);
}

/** @param {Element | null} element a heading can be stood on, not tabbed to */
export function focusOn(element) {
  if (!(element instanceof HTMLElement)) return;
  if (element.matches("h1, h2")) element.tabIndex = -1;
  element.focus({ preventScroll: true });
}

/** @param {Element | null} element */
function keyOf(element) {
  if (element instanceof HTMLInputElement) return `${element.name}=${element.type === "text" ? "" : element.value}`;
  if (element instanceof HTMLElement && element.dataset.key) return element.dataset.key;
  return element instanceof HTMLButtonElement ? element.textContent : null;
}
