// The way back. With `step-in-hand shell off` the server sends this in place of sw.js: it
// takes the app's files off the tablet, and itself with them, so that the app opens from the
// server alone. The database with the reports that were not sent yet is not touched, and no
// open page is loaded again under a driver's hands.
const PREFIX = "step-in-hand-shell-";
const sw = /** @type {ServiceWorkerGlobalScope} */ (/** @type {unknown} */ (self));

sw.addEventListener("install", (event) => event.waitUntil(sw.skipWaiting()));
// Chromium leaves it waiting if the worker before was answering just then. The page asks again
// a moment after it is looked at ("looked": a common new version does not heed that).
sw.addEventListener("message", (event) => {
  if (event.data === "looked" || event.data === "apply") event.waitUntil(sw.skipWaiting());
});
sw.addEventListener("activate", (event) => event.waitUntil(retire()));

async function retire() {
  const names = await caches.keys();
  await Promise.all(names.filter((name) => name.startsWith(PREFIX)).map((name) => caches.delete(name)));
  await sw.registration.unregister();
  // Open pages say from now on that they need signal to be opened again.
  const pages = await sw.clients.matchAll({ includeUncontrolled: true, type: "window" });
  for (const page of pages) page.postMessage("off");
}
