/**
 * Starts the app: storage, worker, contact, position, then the page the driver asked for.
 *
 * @import {State} from "./data/store.js"
 */

import { startFollowing } from "./core/follow.js";
import { restrictionsKept } from "./core/restrictions.js";
import { reportsOf } from "./core/rows.js";
import { watch } from "./data/idb.js";
import { recallAll, recallFollow } from "./data/keep.js";
import { markStorage, setMark, storageEmptied } from "./data/marker.js";
import { heldIndex, openPack, showPacks } from "./data/packs.js";
import { readAll } from "./data/rows.js";
import { createStore, firstState } from "./data/store.js";
import { refreshView } from "./data/view.js";
import { showWarnings } from "./data/warnings.js";
import { startWorker } from "./data/worker.js";
import { fill, h } from "./elements/dom.js";
import { drawStrip } from "./screens/strip.js";
import { words } from "./words/chosen.js";

const MINUTE = 60_000;
const UNSEEN_MS = 1_000;
/**
 * Fetched when first wanted, so that the card waits for no other page's code.
 * @typedef {(root: HTMLElement, store: ReturnType<typeof createStore>) => () => void} Mount
 * @type {Record<string, () => Promise<Mount>>}
 */
const SCREENS = {
  brief: async () => (await import("./screens/brief.js")).mount,
  next: async () => (await import("./screens/next-stop.js")).mount,
  report: async () => (await import("./screens/report.js")).mount,
  outbox: async () => (await import("./screens/outbox.js")).mount,
  enrol: async () => (await import("./screens/enrol.js")).mount,
  screen: async () => (await import("./screens/screen.js")).mount,
  slide: async () => (await import("./screens/slide.js")).mount,
  overrun: async () => (await import("./screens/slide.js")).alone(words.report.w10),
  short: async () => (await import("./screens/slide.js")).alone(words.report.w10short),
};
/** Screens whose code is here: these open in the frame of the tap. @type {Record<string, Mount>} */
const here = {};
const NAV = /** @type {const} */ (["brief", "next", "report", "outbox"]);
const ALONE = new Set(["overrun", "short"]);
/** Shown before the code behind their taps is here. */
const FIRST = new Set(["next", "brief"]);
/** What of the storage the first page is made from. */
const RECALLED = ["prep", "draft", "route", "tablet", "duty", "confirmed", "marks", "answers", "restrictions"];
/** On these pages nobody is in the middle of anything: the app may change its version. */
const AT_LEISURE = new Set(["brief", "outbox"]);

const store = createStore(firstState());
const worker = startWorker(store);
const page = /** @type {HTMLElement} */ (document.getElementById("page"));
const nav = /** @type {HTMLElement} */ (document.getElementById("nav"));
const foot = /** @type {HTMLElement} */ (document.getElementById("foot"));
const strip = h("div", { className: "strip" });
/** Said where a page's code cannot be had. */
const unopened = h("div", { className: "unopened" });
const installApp = installer();
const build = new URL(import.meta.url).pathname.split("/")[2] ?? "unknown";

/** Made once: a tab drawn anew under a finger would lose the tap. */
const tabs = new Map(NAV.map((name) => [name, h("a", { href: `#${name}`, className: "tab" }, words.nav[name])]));
const count = h("span", { className: "unsent" });

let unmount = () => {};
let shown = "";
/** The code behind the taps cannot be had. */
let unable = false;

/** While the train moves there is one page, and it has no control. */
function route() {
  const asked = location.hash.slice(1);
  const moving = store.get().follow.motion === "moving";
  // At a red signal the card comes back, not the form that was open: that waits under its name.
  if (moving && asked !== "next") history.replaceState(null, "", "#next");
  const name = moving ? "next" : asked in SCREENS ? asked : "brief";
  document.body.classList.toggle("moving", moving);
  document.body.classList.toggle("words-alone", ALONE.has(name));
  worker.setBusy(moving || !AT_LEISURE.has(name));
  if (moving) fill(nav);
  else drawNav(name);
  drawStrip(strip, store, moving || ALONE.has(name) || name === "next");
  // Two pages say it themselves, at their own place.
  drawFoot(moving || ALONE.has(name) || name === "next" || !store.get().touched);
  if (unable) return notOpened(name);
  if (name === shown) return;
  if (!here[name]) {
    // Drawn whole when its code is here; until then the page before stays.
    bring(name).then(route, (error) => {
      console.error("page does not open", name, error);
      notOpened(name);
    });
    return;
  }
  const first = shown === "";
  fill(unopened);
  unmount();
  shown = name;
  document.body.dataset.screen = name;
  unmount = here[name](page, store);
  scrollTo(0, 0);
  if (!first) announce();
}

/**
 * The page before stays, and its name with it: the same tap tries again. Where there is none,
 * or where it holds controls while the train moves, the words stand alone.
 * @param {string} name
 */
function notOpened(name) {
  const moving = store.get().follow.motion === "moving";
  const told = (/** @type {string} */ text) => h("div", { className: "notice strong", role: "alert" }, h("p", {}, text));
  if (moving || shown === "") {
    unmount();
    unmount = () => {};
    shown = "";
    fill(unopened);
    fill(page, h("section", {}, h("p", {}, words.card.w6), told(words.strip.unopened)));
    return;
  }
  if (location.hash.slice(1) !== name) return;
  history.replaceState(null, "", `#${shown}`);
  fill(unopened, told(words.strip.unopened));
  drawNav(shown);
  scrollTo(0, 0);
}

/** @param {string} name */
async function bring(name) {
  // The other pages ask for answers in the same breath.
  const [mount] = await Promise.all([SCREENS[name](), FIRST.has(name) ? null : later()]);
  here[name] ??= mount;
}

/** All pages, so that every tap from now on is answered at once. */
async function bringAll() {
  await Promise.all(Object.keys(SCREENS).map(bring));
}

/** Who listens to the page instead of seeing it is told that it is another one. */
function announce() {
  const heading = page.querySelector("h1");
  if (!heading) return;
  heading.tabIndex = -1;
  heading.focus({ preventScroll: true });
}

/** @param {string} current */
function drawNav(current) {
  const unsent = reportsOf(store.get().rows).length;
  const key = `${current} ${unsent}`;
  if (nav.dataset.drawn === key && nav.childElementCount > 0) return;
  nav.dataset.drawn = key;
  for (const [name, tab] of tabs) {
    if (name === current) tab.setAttribute("aria-current", "page");
    else tab.removeAttribute("aria-current");
  }
  count.textContent = ` ${unsent}`;
  if (unsent > 0) tabs.get("outbox")?.append(count);
  else count.remove();
  if (nav.childElementCount === 0) fill(nav, ...tabs.values());
}

/** @param {boolean} hidden */
function drawFoot(hidden) {
  const text = hidden ? "" : words.frame.w8;
  if (foot.textContent !== text) foot.textContent = text;
}

async function recallState() {
  // Beside each other: the card waits for the slowest, not for their sum.
  const [{ prep, draft, route, tablet, duty, confirmed, marks, answers, restrictions }, index, follow, emptied, all] = await Promise.all([
    recallAll(RECALLED),
    heldIndex(),
    recallFollow(),
    storageEmptied(),
    readAll(),
    showWarnings(store),
  ]);
  const pack = route ? await openPack(route, prep?.pack ?? null) : null;
  store.set({
    pack,
    tablet: tablet ?? null,
    confirmed: confirmed ?? null,
    withdrawn: index?.withdrawn ?? [],
    // One kept by an older app has not been asked for what it lacks.
    prep: pack && prep?.route === route ? { wsp: null, ...prep } : null,
    duty: duty ?? null,
    // Begun while the storage did not open: what is in hand stays.
    draft: store.get().draft ?? draft ?? null,
    marks: marks ?? [],
    answers: answers ?? {},
    restrictions: restrictionsKept(restrictions),
    follow: startFollowing(follow),
    emptied,
    ...all,
  });
  refreshView(store);
  await showPacks(store);
}

/** From here on an empty storage means that it was emptied. No card waits for this. */
async function mark() {
  if (!store.get().emptied) await markStorage(reportsOf(store.get().rows).length);
}

/** The storage opens after all: go on by itself, with what is kept. */
function unblock() {
  if (!store.get().trouble) return;
  store.set({ trouble: null });
  recallState().then(mark).catch((error) => console.error("storage does not open", error));
}

function listen() {
  addEventListener("hashchange", route);
  store.subscribe(route);
  store.subscribe(({ rows, emptied }, before) => {
    if (rows !== before.rows && !emptied) setMark(reportsOf(rows).length);
  });
  // After the control has taken the touch: what is drawn anew under a finger would lose it.
  for (const kind of ["click", "keyup", "pointercancel"]) {
    addEventListener(kind, () => store.get().touched || store.set({ touched: true }));
  }
  setInterval(() => refreshView(store), MINUTE);
  document.addEventListener("visibilitychange", () => refreshView(store));
}

function installer() {
  /** @type {any} */
  let offered = null;
  addEventListener("beforeinstallprompt", (event) => {
    event.preventDefault();
    offered = event;
    store.set({ canInstall: true });
  });
  return async () => {
    await offered?.prompt();
    store.set({ canInstall: false });
  };
}

async function askToKeep() {
  const persisted = await navigator.storage?.persist?.().catch(() => false);
  store.set({ persisted: persisted ?? false });
}

/** The driver has seen that the storage was emptied: from here on it counts as whole. */
function emptiedTold() {
  store.set({ emptied: null });
  markStorage(reportsOf(store.get().rows).length).catch((error) => console.error("not marked", error));
}

/**
 * What the first look does not need; done too where nothing is painted, behind another window.
 * @param {() => void} work
 */
function afterPaint(work) {
  let begun = false;
  const begin = () => {
    if (!begun) work();
    begun = true;
  };
  requestAnimationFrame(() => setTimeout(begin));
  setTimeout(begin, UNSEEN_MS);
}

/** @type {Promise<ReturnType<typeof import("./data/later.js").startLater>> | null} */
let coming = null;

/** The code behind every tap. What did not come is asked for again. */
function later() {
  coming ??= import("./data/later.js").then(
    ({ startLater }) => startLater(store, build, { ...worker, installApp, emptiedTold }),
    (error) => {
      coming = null;
      throw error;
    },
  );
  return coming;
}

/** Done once the first page is painted: nothing is fetched beside it. */
let isPainted = () => {};
const painted = new Promise((resolve) => (isPainted = () => resolve(undefined)));

/** Until that code is here, what a page or a tap asks for waits for it. */
function awaited() {
  return /** @type {import("./data/store.js").Actions} */ (new Proxy({}, {
    get: (_, name) => async (/** @type {unknown[]} */ ...all) => {
      await painted;
      await later();
      return /** @type {any} */ (store.act)[name](...all);
    },
  }));
}

/** A card that nothing can move on, without the train's place, is worse than none. */
function lame() {
  unable = true;
  unmount();
  shown = "";
  route();
}

/** Nothing can be kept from here, so nothing is pretended. */
function needHttps() {
  fill(page, h("section", {},
    h("h1", {}, words.strip.needsHttpsTitle),
    h("p", {}, words.strip.needsHttps),
    h("p", {}, words.brief.defer)));
}

async function start() {
  if (!isSecureContext) return needHttps();
  page.before(unopened, strip);
  watch({ onTrouble: (trouble) => store.set({ trouble }), onOpened: unblock });
  store.act = awaited();
  const recalled = recallState().then(() => true, (error) => {
    console.error("storage does not open", error);
    if (!store.get().trouble) store.set({ trouble: "damaged" });
    return false;
  });
  const asked = location.hash.slice(1);
  const [whole] = await Promise.all([recalled, bring(asked in SCREENS ? asked : "brief").catch(() => null)]);
  listen();
  route();
  afterPaint(() => {
    isPainted();
    later().then((network) => network.start(), (error) => {
      console.error("the app does not start whole", error);
      lame();
    });
    bringAll().catch((error) => console.error("not every page is here", error));
    if (whole) mark().catch((error) => console.error("storage not marked", error));
  });
  void worker.coldStart();
  // Some browsers ask the driver, who may never answer: nothing waits for that.
  void askToKeep();
}

start();
