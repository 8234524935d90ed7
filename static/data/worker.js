/**
 * The service worker, seen from the page. A new version waits until the driver takes it
 * at a stand, or until the app is started again.
 *
 * @import {Store} from "./store.js"
 */

/** @param {Store} store */
export function startWorker(store) {
  if (!("serviceWorker" in navigator)) return { applyUpdate: () => {} };
  const workers = navigator.serviceWorker;
  /** @type {ServiceWorkerRegistration | null} */
  let registration = null;
  let applied = false;

  const look = () => store.set({ updateReady: Boolean(registration?.waiting && workers.controller) });

  async function start() {
    registration = await workers.register("/sw.js", { updateViaCache: "none" });
    registration.addEventListener("updatefound", () => {
      registration?.installing?.addEventListener("statechange", look);
    });
    look();
  }

  workers.addEventListener("controllerchange", () => applied && location.reload());
  document.addEventListener("visibilitychange", () => {
    // Home-screen apps are rarely closed: without this a new version is never even seen.
    if (document.visibilityState === "visible") registration?.update().catch(() => {});
  });
  start().catch((error) => console.error("worker not registered", error));

  return {
    applyUpdate() {
      applied = true;
      registration?.waiting?.postMessage("apply");
    },
  };
}
