// What a window of the tablet keeps contact with: the app's own network, with its store, its
// locks and its fetch, over the disk of memory.js. Only what the browser brings stands in.
import { createHash } from "node:crypto";
import { disk, tabs } from "./memory.js";

const app = {};
let outstanding = 0;
let used = false;

/** Stand in for the browser: pages, locks between windows, and a network of this side. */
export async function stand(world, request, root) {
  globalThis.document = { documentElement: { dataset: {} }, visibilityState: "visible" };
  globalThis.matchMedia = () => ({ matches: true });
  globalThis.fetch = async (path, { body, headers }) => responseOf(await request(path, body, headers?.["If-None-Match"]));
  for (const word of ["error", "warn"]) console[word] = () => {};
  const locks = { request: (name, _how, work) => locked(world, name, work) };
  Object.defineProperty(navigator, "locks", { get: () => (world.locks ? locks : undefined) });
  countCrypto();
  const names = ["store", "network", "packs", "warnings", "ask-warnings", "take-packs"];
  for (const name of names) Object.assign(app, await import(`${root}data/${name}.js`));
}

/** Digests and signatures are worked out beside the loop: a turn of it does not wait for them. */
function countCrypto() {
  for (const name of ["digest", "importKey", "verify"]) {
    const real = crypto.subtle[name].bind(crypto.subtle);
    crypto.subtle[name] = async (...args) => {
      outstanding += 1;
      try {
        return await real(...args);
      } finally {
        // What waits for it goes on first.
        setTimeout(() => (outstanding -= 1), 0);
      }
    };
  }
}

export const idle = () => outstanding === 0;

async function locked(world, name, work) {
  const tab = tabs.getStore();
  if (world.owners.has(name)) return work(null);
  world.owners.set(name, tab);
  try {
    return await work({ name });
  } finally {
    if (world.owners.get(name) === tab) world.owners.delete(name);
  }
}

function responseOf({ status, type, text, base64, ours, etag, retryAfter }) {
  const known = { "Content-Type": type, ETag: etag, "Retry-After": retryAfter, "X-Step-In-Hand": ours ? "1" : null };
  const headers = new Headers(Object.entries(known).filter(([, value]) => value));
  const bytes = base64 === undefined ? new TextEncoder().encode(text) : Uint8Array.from(atob(base64), (one) => one.charCodeAt(0));
  const kind = status >= 300 && status < 304 ? "opaqueredirect" : "basic";
  return { status, headers, type: kind, text: async () => text ?? new TextDecoder().decode(bytes), arrayBuffer: async () => bytes.buffer };
}

/** A window's store and network, made when they are first used: the outbox's machine needs none. */
function feeds() {
  const tab = tabs.getStore();
  used = true;
  tab.store ??= app.createStore(app.firstState());
  tab.network ??= app.createNetwork(tab.store, "machine");
  return tab;
}

/** What a rule can have a window do; each is what the app itself does at some moment. */
export const FEEDS = {
  // As at its start: what the disk holds comes before the screens.
  wake: async () => {
    const { store } = feeds();
    await app.showWarnings(store);
    await app.showPacks(store);
    await app.showWithdrawn(store);
  },
  sync: () => feeds().network.sync(),
  askWarnings: () => app.syncWarnings(feeds().store).finally(() => app.showWarnings(feeds().store)),
  takePacks: () => app.takePacks(feeds().store),
  tellDepot: () => feeds().network.flush(true),
  openPack: async ({ route }) => (await app.openPack(route, null))?.sha ?? null,
  // What enrolment leaves on the disk; who enrolled it is at the depot.
  enrolled: async ({ key }) => {
    used = true;
    disk.get("kv").set("depot_key", key);
    disk.get("kv").set("was_enrolled", true);
  },
  rot: async ({ sha }) => void disk.get("packs").set(sha, new Uint8Array([1, 2, 3]).buffer),
};

/** How it stands on the disk and before the screens. */
export function feedsState(open) {
  if (!used) return {};
  const kv = disk.get("kv");
  const files = [...disk.get("packs")].map(([sha, bytes]) => [sha, createHash("sha256").update(new Uint8Array(bytes)).digest("hex")]);
  const screens = [...open.values()].flatMap(({ id, store }) => (store ? [[id, shown(store.get())]] : []));
  return {
    warnings: [...disk.get("warnings").values()], cursor: kv.get("warnings") ?? null,
    index: kv.get("index") ?? null, packs: kv.get("packs") ?? {}, confirmed: kv.get("confirmed") ?? null,
    files: Object.fromEntries(files), screens: Object.fromEntries(screens),
  };
}

function shown({ warnings, pack, withdrawn }) {
  return { warnings: warnings.rows.map(({ id }) => id), pack: pack?.sha ?? null, withdrawn: withdrawn.flatMap((one) => one.packs) };
}
