// The worker keeps one whole version of the app's files, so that it opens with no network.
// The server writes the build's name and its list of files into these two lines.
const BUILD = "__BUILD__";
const FILES = ["__PRECACHE__"];

const PREFIX = "step-in-hand-shell-";
const CACHE = PREFIX + BUILD;
const DEADLINE_MS = 30_000;
const sw = /** @type {ServiceWorkerGlobalScope} */ (/** @type {unknown} */ (self));

sw.addEventListener("install", (event) => event.waitUntil(install()));
sw.addEventListener("activate", (event) => event.waitUntil(activate()));
sw.addEventListener("message", (event) => {
  // Only the driver's own tap at a stand sends this; a new version never pushes in.
  if (event.data === "apply") event.waitUntil(sw.skipWaiting());
  // A page loaded just while this worker took over was missed by `activate`.
  if (event.data === "claim") event.waitUntil(sw.clients.claim());
});
sw.addEventListener("fetch", (event) => {
  const url = new URL(event.request.url);
  if (event.request.method !== "GET" || url.origin !== sw.location.origin) return;
  const path = event.request.mode === "navigate" && url.pathname === "/" ? "/" : url.pathname;
  if (FILES.includes(path)) event.respondWith(held(path, event.request));
});

/** All files or none: a half-filled cache would be a broken app at the next start. */
async function install() {
  try {
    const cache = await caches.open(CACHE);
    const answers = await Promise.all(FILES.map(fetched));
    await Promise.all(FILES.map((path, i) => cache.put(path, answers[i])));
  } catch (error) {
    await caches.delete(CACHE);
    throw error;
  }
}

/**
 * One file of this build and of no other; a portal's page in its place is refused.
 * @param {string} path
 */
async function fetched(path) {
  const signal = AbortSignal.timeout(DEADLINE_MS);
  const response = await fetch(path, { cache: "no-cache", redirect: "error", signal });
  const html = (response.headers.get("Content-Type") ?? "").startsWith("text/html");
  if (response.status !== 200 || html === path.includes(".")) throw new Error(`cannot hold ${path}`);
  // Read to its end here: a body cut short must fail the install, not the next start.
  const text = await response.clone().text();
  // What stands at a fixed address names its build inside.
  if (!path.startsWith("/app/") && !text.includes(`/app/${BUILD}/`)) throw new Error(`${path} is of another build`);
  // As it came: Chrome keeps a script compiled with an answer of the network, not with one made here.
  return response;
}

async function activate() {
  const names = await caches.keys();
  const old = names.filter((name) => name.startsWith(PREFIX) && name !== CACHE);
  await Promise.all(old.map((name) => caches.delete(name)));
  await sw.clients.claim();
}

/**
 * @param {string} path
 * @param {Request} request
 */
async function held(path, request) {
  // Not `open`: that makes the cache again if the way back has just taken it.
  return (await caches.match(path, { cacheName: CACHE })) ?? fetch(request);
}
