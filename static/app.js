/**
 * Starts the app: storage, worker, then the page the driver asked for; contact and position
 * once that is painted.
 *
 * @import {State} from "./data/store.js"
 */

import { startFollowing } from "./core/follow.js";
import { restrictionsKept } from "./core/restrictions.js";
import { weatherKept } from "./core/weather.js";
import { reportsOf } from "./core/rows.js";
import { createActions, sorted } from "./data/actions.js";
import { BUILD } from "./data/build.js";
import { readDrafts } from "./data/draft-rows.js";
import { rememberClock } from "./data/dress.js";
import { watch } from "./data/idb.js";
import { recallAll, recallFollow } from "./data/keep.js";
import { markStorage, setMark, storageEmptied } from "./data/marker.js";
import { createNetwork } from "./data/network.js";
import { heldIndex, openPack, showPacks } from "./data/packs.js";
import { startPosition } from "./data/position.js";
import { readAll } from "./data/rows.js";
import { createStore, firstState } from "./data/store.js";
import { refreshView } from "./data/view.js";
import { showWarnings } from "./data/warnings.js";
import { onAnswerElsewhere, onTakenUp } from "./data/windows.js";
import { startWorker } from "./data/worker.js";
import { fill, focusOn, h } from "./elements/dom.js";
import * as brief from "./screens/brief.js";
import * as enrol from "./screens/enrol.js";
import * as next from "./screens/next-stop.js";
import * as outbox from "./screens/outbox.js";
import * as report from "./screens/report.js";
import * as screen from "./screens/screen.js";
import * as slide from "./screens/slide.js";
import { drawStrip } from "./screens/strip.js";
import { takeFixedWords, words } from "./words/chosen.js";

const MINUTE = 60_000;
const UNSEEN_MS = 1_000;
/** @type {Record<string, (root: HTMLElement, store: ReturnType<typeof createStore>) => () => void>} */
const SCREENS = {
  brief: brief.mount,
  next: next.mount,
  report: report.mount,
  outbox: outbox.mount,
  enrol: enrol.mount,
  screen: screen.mount,
  slide: slide.mount,
  overrun: slide.alone(() => words.report.w10),
  short: slide.alone(() => words.report.w10short),
};
const NAV = /** @type {const} */ (["brief", "next", "report", "outbox"]);
const ALONE = new Set(["overrun", "short"]);
/** What of the storage the first page is made from. */
const RECALLED = ["prep", "route", "tablet", "duty", "confirmed", "confirmed_by", "answers", "restrictions", "weather", "shownCards", "newFigures"];
/** On these pages nobody is in the middle of anything: the app may change its version. */
const AT_LEISURE = new Set(["brief", "outbox"]);
/** These show what was answered. */
const ADVISING = new Set(["brief", "next"]);

const store = createStore(firstState());
// Before any screen draws: they read the company's words out of the catalogue.
store.subscribe(({ pack }, before) => pack !== before.pack && takeFixedWords(pack?.base ?? null));
const worker = startWorker(store);
const page = /** @type {HTMLElement} */ (document.getElementById("page"));
const nav = /** @type {HTMLElement} */ (document.getElementById("nav"));
const foot = /** @type {HTMLElement} */ (document.getElementById("foot"));
const strip = h("div", { className: "strip" });
const installApp = installer();
if ("demo" in document.documentElement.dataset) sayDemo();

/** Made once: a tab drawn again under a finger would lose the tap. */
const tabs = new Map(NAV.map((name) => [name, h("a", { href: `#${name}`, className: "tab" }, words.nav[name])]));
const count = h("span", { className: "unsent" });

let unmount = () => {};
let shown = "";
/** Another window answered: what this one holds may not be so any more. */
let answeredElsewhere = false;

/** While the train moves there is one page, and it has no control. */
function route() {
  const asked = location.hash.slice(1);
  const moving = store.get().follow.motion === "moving";
  // At a red signal the card comes back, not the form that was open: that waits under its name.
  if (moving && asked !== "next") history.replaceState(null, "", "#next");
  const name = moving ? "next" : asked in SCREENS ? asked : "brief";
  // What is being typed is not broken off: it shows no advice, and the next page is read again.
  if (answeredElsewhere && ADVISING.has(name)) return location.reload();
  document.body.classList.toggle("moving", moving);
  document.body.classList.toggle("words-alone", ALONE.has(name));
  worker.setBusy(moving || !AT_LEISURE.has(name));
  if (moving) fill(nav);
  else drawNav(name);
  drawStrip(strip, store, moving || ALONE.has(name) || name === "next");
  // Two pages say it themselves, at their own place.
  drawFoot(moving || ALONE.has(name) || name === "next" || !store.get().touched);
  if (name === shown) return;
  const first = shown === "";
  unmount();
  shown = name;
  document.body.dataset.screen = name;
  unmount = SCREENS[name](page, store);
  scrollTo(0, 0);
  if (!first) announce();
}

/** Who listens to the page instead of seeing it is told that it is another one. */
function announce() {
  focusOn(page.querySelector("h1"));
}

/** The depot is a demo: that stands below every page, in fewer words on a phone. */
function sayDemo() {
  const line = /** @type {HTMLElement} */ (document.getElementById("demo"));
  const rest = h("span", { className: "rest" }, `${words.frame.demoRest} `);
  fill(line, `${words.frame.demo} `, rest, `${words.frame.demoNot} `, h("a", { href: "/ride" }, words.frame.demoRide));
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
  const [{ prep, route, tablet, duty, confirmed, confirmed_by, answers, restrictions, weather, shownCards, newFigures }, index, follow, emptied, all, kept] = await Promise.all([
    recallAll(RECALLED),
    heldIndex(),
    recallFollow(),
    storageEmptied(),
    readAll(),
    // Drafts that cannot be read must not keep the card away.
    readDrafts().catch(() => []),
    showWarnings(store),
  ]);
  const pack = route ? await openPack(route, prep?.pack ?? null) : null;
  store.set({
    pack,
    tablet: tablet ?? null,
    confirmed: confirmed ?? null,
    confirmedBy: confirmed_by ?? null,
    withdrawn: index?.withdrawn ?? [],
    // One kept by an older app has not been asked for what it lacks.
    prep: pack && prep?.route === route ? { wsp: null, ...prep } : null,
    duty: duty ?? null,
    ...sorted(kept),
    answers: answers ?? {},
    shownCards: shownCards ?? null,
    newFigures: newFigures ?? {},
    restrictions: restrictionsKept(restrictions),
    weather: weatherKept(weather),
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
  badge(reportsOf(store.get().rows).length);
  store.subscribe(({ rows, emptied }, before) => {
    if (rows !== before.rows && !emptied) setMark(reportsOf(rows).length);
    if (rows !== before.rows) badge(reportsOf(rows).length);
  });
  // After the control has taken the touch: what is drawn again under a finger would lose it.
  for (const kind of ["click", "keyup", "pointercancel"]) {
    addEventListener(kind, () => store.get().touched || store.set({ touched: true }));
  }
  setInterval(() => refreshView(store), MINUTE);
  document.addEventListener("visibilitychange", () => refreshView(store));
}

/**
 * Unsent reports are counted on the app's icon too, where the tablet can do so.
 * @param {number} unsent
 */
function badge(unsent) {
  const shown = unsent > 0 ? navigator.setAppBadge?.(unsent) : navigator.clearAppBadge?.();
  shown?.catch(() => {});
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

/** Nothing can be kept from here, so nothing is pretended. */
function needHttps() {
  fill(page, h("section", {},
    h("h1", {}, words.strip.needsHttpsTitle),
    h("p", {}, words.strip.needsHttps),
    h("p", {}, words.brief.defer)));
}

async function start() {
  if (!isSecureContext) return needHttps();
  page.before(strip);
  watch({ onTrouble: (trouble) => store.set({ trouble }), onOpened: unblock });
  const network = createNetwork(store, BUILD);
  store.act = createActions(store, network, { ...worker, installApp, emptiedTold });
  rememberClock(store);
  const whole = await recallState().then(() => true, (error) => {
    console.error("storage does not open", error);
    if (!store.get().trouble) store.set({ trouble: "damaged" });
    return false;
  });
  listen();
  onAnswerElsewhere(() => {
    answeredElsewhere = true;
    route();
  });
  onTakenUp((id) => store.get().draft?.id === id && store.set({ draft: null, takenUp: id }));
  route();
  afterPaint(() => {
    startPosition(store);
    network.start();
    if (whole) mark().catch((error) => console.error("storage not marked", error));
  });
  void worker.coldStart();
  // Some browsers ask the driver, who may never answer: nothing waits for that.
  void askToKeep();
}

start();
