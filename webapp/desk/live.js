/**
 * The list of reports as it stands at the depot now: asked for every ten seconds, drawn again
 * only where something changed. The reader keeps his place, and hears what came.
 */

const EVERY_MS = 10_000;
const MOST_NAMED = 3;
/** Nobody's hand: a page left open must not keep its log-in from ending. */
const UNATTENDED = { "X-Unattended": "1" };

const said = /** @type {HTMLElement} */ (document.querySelector("[data-live-said]"));
const time = () => new Date().toTimeString().slice(0, 5);
let mark = said.dataset.mark ?? "";
let heard = time();
let busy = false;

const rows = (/** @type {ParentNode} */ page) => [...page.querySelectorAll("[data-live=list] > ol > li")];
const link = (/** @type {Element} */ row) => /** @type {HTMLAnchorElement} */ (row.querySelector("h2 a"));

/** @param {string} address @returns {Promise<Response>} */
async function ask(address) {
  const answer = await fetch(address, { headers: UNATTENDED, cache: "no-store", redirect: "error" });
  if (!answer.ok) throw new Error(String(answer.status));
  return answer;
}

async function look() {
  if (busy || document.hidden) return;
  busy = true;
  try {
    const now = await (await ask(said.dataset.state ?? "")).json();
    if (now.mark !== mark) {
      const text = await (await ask(location.href)).text();
      show(new DOMParser().parseFromString(text, "text/html"));
      mark = now.mark;
    } else if (said.classList.contains("lost")) say("");
    said.classList.remove("lost");
    heard = time();
  } catch {
    said.classList.add("lost");
    say(`No answer from the depot. This list is of ${heard}; load the page again.`);
  } finally {
    busy = false;
  }
}

/** @param {string} words */
function say(words) {
  if (said.textContent !== words) said.textContent = words;
}

/** @param {Document} page as the depot has it now */
function show(page) {
  const known = new Set(rows(document).map((row) => link(row).href));
  const open = new Set(rows(document).filter((row) => row.querySelector("details")?.open).map((row) => link(row).href));
  const ticked = new Set([...document.querySelectorAll("[name=pick]:checked")].map((one) => /** @type {HTMLInputElement} */ (one).value));
  const focused = document.activeElement?.closest("[data-live] a")?.getAttribute("href");
  const held = anchor();
  for (const part of document.querySelectorAll("[data-live]")) {
    const name = /** @type {HTMLElement} */ (part).dataset.live;
    part.replaceChildren(...(page.querySelector(`[data-live=${name}]`)?.childNodes ?? []));
  }
  // What somebody changed meanwhile has another version, so its tick is gone with the row he read.
  for (const one of /** @type {NodeListOf<HTMLInputElement>} */ (document.querySelectorAll("[name=pick]"))) one.checked = ticked.has(one.value);
  const here = new Map(rows(document).map((row) => [link(row).href, row]));
  for (const href of open) here.get(href)?.querySelector("details")?.toggleAttribute("open", true);
  const again = held && here.get(held.href);
  if (again) scrollBy(0, again.getBoundingClientRect().top - held.top);
  if (focused) /** @type {HTMLElement | null} */ (document.querySelector(`[data-live] a[href="${CSS.escape(focused)}"]`))?.focus({ preventScroll: true });
  const fresh = [...here].filter(([href]) => !known.has(href)).map(([, row]) => row);
  for (const row of fresh) row.classList.add("fresh");
  if (fresh.length === 0) return say(`Changed at ${time()}.`);
  const names = fresh.slice(0, MOST_NAMED).map((row) => link(row).textContent?.trim().replaceAll(/\s+/g, " ")).join("; ");
  const more = fresh.length > MOST_NAMED ? `; ${fresh.length - MOST_NAMED} more` : "";
  say(`New at ${time()}: ${names}${more}`);
}

/** The row the reader has before him: the one with the focus, or the first that is in sight. */
function anchor() {
  const all = rows(document);
  const row = all.find((one) => one.contains(document.activeElement)) ?? all.find((one) => one.getBoundingClientRect().bottom > 0);
  if (!row || scrollY === 0) return null;
  return { href: link(row).href, top: row.getBoundingClientRect().top };
}

setInterval(look, EVERY_MS);
document.addEventListener("visibilitychange", look);
