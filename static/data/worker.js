/**
 * The service worker, seen from the page. A new version waits until the driver takes it at
 * a stand, or until the app is started again. While any window of the app shows the Next
 * stop card, a report or a page of fixed words, or the train moves, nothing is switched.
 *
 * @import {Store} from "./store.js"
 */

import { holdTogether, isHeld } from "./locks.js";

const IN_USE = "in-use";
/** An app that is left open for days asks on its own whether there is a new version. */
const LOOK_EVERY_MS = 3600_000;
const SETTLED_MS = 1_500;

/** @param {Store} store */
export function startWorker(store) {
  const workers = navigator.serviceWorker;
  if (!workers) return { applyUpdate() {}, coldStart: async () => {}, setBusy() {} };
  /** @type {ServiceWorkerRegistration | null} */
  let registration = null;
  let controlled = Boolean(workers.controller);
  /** Another window took the new version: this page is now the older one. */
  let behind = false;
  let applied = false;
  let off = false;
  /** @type {(() => void) | null} */
  let letGo = null;

  const look = () => {
    const waiting = Boolean(registration?.waiting && workers.controller);
    store.set({ updateReady: !off && (waiting || behind) });
  };
  const seen = () => document.visibilityState === "visible";
  const moving = () => store.get().follow.motion === "moving";
  /** The tap was in the Brief; what is open now may be something else. */
  const reload = () => applied && behind && letGo === null && !moving() && location.reload();

  async function register() {
    registration = await workers.register("/sw.js", { updateViaCache: "none" });
    registration.addEventListener("updatefound", () => {
      registration?.installing?.addEventListener("statechange", look);
    });
    look();
  }
  const registered = register().catch((error) => console.error("worker not registered", error));

  // A page that is loaded just while its worker takes over may be missed by it.
  void workers.ready.then(({ active }) => workers.controller ?? active?.postMessage("claim"));

  async function applyUpdate() {
    if (await isHeld(IN_USE)) return store.set({ updateHeld: true });
    applied = true;
    if (registration?.waiting) registration.waiting.postMessage("apply");
    else reload();
  }

  workers.addEventListener("controllerchange", () => {
    behind = controlled;
    controlled = true;
    look();
    reload();
  });
  workers.addEventListener("message", (event) => {
    if (event.data !== "off") return;
    off = true;
    store.set({ shellOff: true });
    look();
  });
  workers.startMessages();
  const ask = () => {
    if (!seen()) return;
    registration?.update().catch(() => {});
    // Once what a look asks for has come, or the worker in use cannot be replaced. Only the way
    // back heeds this: a version that waits is taken by the driver's tap alone.
    setTimeout(() => registration?.waiting?.postMessage("looked"), SETTLED_MS);
  };
  // Home-screen apps are rarely closed: without this a new version is never even seen.
  document.addEventListener("visibilitychange", ask);
  setInterval(ask, LOOK_EVERY_MS);

  return {
    applyUpdate,
    /** A version that waited is taken now, as long as nobody has begun anything. */
    async coldStart() {
      await registered;
      // A worker that is still giving out this page's files cannot be replaced for long.
      await new Promise((resolve) => setTimeout(resolve, SETTLED_MS));
      const { touched, draft, drafts } = store.get();
      if (!registration?.waiting || !workers.controller) return;
      if (touched || draft || drafts.length > 0 || letGo !== null || moving()) return;
      await applyUpdate();
    },
    /** @param {boolean} on whether this window shows what must not be taken away */
    setBusy(on) {
      if (on === (letGo !== null)) return;
      letGo?.();
      letGo = on ? holdTogether(IN_USE) : null;
      if (!on) reload();
    },
  };
}
