/** Keys for reports, list and one; everything they do, plain links and the form do too. */

/** Anew each time: the list changes under the reader. */
const all = () => /** @type {HTMLAnchorElement[]} */ ([...document.querySelectorAll("[data-keys] h2 a")]);

/** @param {number} by */
const step = (by) => {
  const beside = /** @type {HTMLAnchorElement | null} */ (document.querySelector(`nav a[rel=${by > 0 ? "next" : "prev"}]`));
  if (beside) return beside.click();
  const links = all();
  const focused = document.activeElement;
  const row = focused?.closest("[data-keys] > li");
  const now = row ? links.findIndex((link) => row.contains(link)) : -1;
  const next = now < 0 ? (by > 0 ? 0 : links.length - 1) : now + by;
  links[next]?.focus();
};

const tick = () => {
  const row = document.activeElement?.closest("[data-keys] > li");
  /** @type {HTMLInputElement | null | undefined} */ (row?.querySelector("[name=pick]"))?.click();
};

const search = () => {
  const field = /** @type {HTMLInputElement | null} */ (document.querySelector("#f-q"));
  const folded = field?.closest("details");
  if (folded) folded.open = true;
  field?.focus();
  field?.select();
};

document.addEventListener("keydown", (event) => {
  const typing = /** @type {HTMLElement} */ (event.target).matches("input:not([type=checkbox]), select, textarea");
  if (typing || event.ctrlKey || event.altKey || event.metaKey) return;
  if (event.key === "j") step(1);
  else if (event.key === "k") step(-1);
  else if (event.key === "x") tick();
  else if (event.key === "/") search();
  else return;
  event.preventDefault();
});
