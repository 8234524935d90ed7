/**
 * Keeps the state of a build up to date without a new page, which would take the focus away.
 * Once the build has ended the page is asked for again, as it is then another one.
 */

const EVERY_MS = 5_000;
const STATE = ".state";

async function look() {
  const answer = await fetch(location.href, { cache: "no-store" }).catch(() => null);
  if (!answer?.ok) return;
  const page = new DOMParser().parseFromString(await answer.text(), "text/html");
  if (!page.querySelector("[data-at-work]")) return location.reload();
  const [here, now] = [document.querySelector(STATE), page.querySelector(STATE)];
  if (here && now && here.textContent !== now.textContent) here.textContent = now.textContent;
}

setInterval(look, EVERY_MS);
