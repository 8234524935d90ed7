/**
 * Packs on the tablet: fetch what is missing, check every byte against its name, then
 * switch with one write. The pack before stays until the new one has been opened.
 *
 * @import {Manifest, PackFile} from "../core/types.js"
 * @import {Held, Pointer} from "./packs.js"
 */

import { Refused, signedIndex } from "../core/index-text.js";
import { checkedManifest } from "../core/sync.js";
import { getBytes } from "./api.js";
import { done, transact } from "./idb.js";
import { ifFree } from "./locks.js";
import { dropBut, json, readBoth, sha256, stored, tidy } from "./packs.js";

/**
 * Files already here are not fetched again, and one comes after the other: a cut costs
 * one file at most.
 * @param {string} route
 * @param {string} sha name of the pack
 * @param {number} now
 * @param {(progress: {name: string, done: number, of: number}) => void} [tell] how many files are here
 * @returns {Promise<boolean>} false: another window is at it
 */
export function install(route, sha, now, tell = () => {}) {
  return ifFree("packs", async () => {
    const bytes = await bring(route, sha, () => begin(route, sha, []));
    const manifest = readable(() => checkedManifest(json(bytes)));
    if (manifest.route !== route) throw new Refused("damaged", `pack ${sha} is for ${manifest.route}`);
    await begin(route, sha, manifest.files);
    for (const [done, file] of manifest.files.entries()) {
      tell({ name: manifest.name, done, of: manifest.files.length });
      await bring(route, file.sha256);
    }
    await checkInside(manifest);
    await point(route, { sha, name: manifest.name, files: manifest.files, fetchedAt: now });
    await tidy();
  });
}

/**
 * Remember what is being fetched, so that tidying up after another route leaves it alone.
 * @param {string} route
 * @param {string} sha
 * @param {PackFile[]} files
 */
function begin(route, sha, files) {
  return transact(["kv"], "readwrite", async (tx) => {
    const kv = tx.objectStore("kv");
    const all = (await done(kv.get("installing"))) ?? {};
    await done(kv.put({ ...all, [route]: { sha, files } }, "installing"));
  });
}

/**
 * Have a file on the tablet. One that is not what its name says is refused, also when it
 * came whole and went bad here: then it is fetched once more.
 * @param {string} route
 * @param {string} sha
 * @param {() => Promise<void>} [before] done before it is kept
 * @returns {Promise<ArrayBuffer>}
 */
async function bring(route, sha, before) {
  const held = await stored(sha);
  if (held && (await sha256(held)) === sha) return held;
  const bytes = await getBytes(`/packs/${sha}`);
  if ((await sha256(bytes)) !== sha) throw new Refused("damaged", `pack file ${sha}`);
  await before?.();
  await store(sha, bytes).catch(async (error) => {
    if (!isFull(error)) throw error;
    await makeRoom({ fetching: route });
    return store(sha, bytes);
  }).catch((error) => {
    throw isFull(error) ? new Refused("full", `pack file ${sha}`) : error;
  });
  return bytes;
}

/**
 * @param {string} sha
 * @param {ArrayBuffer} bytes
 */
function store(sha, bytes) {
  return transact(["packs"], "readwrite", (tx) => done(tx.objectStore("packs").put(bytes, sha)));
}

/** @param {any} error */
function isFull(error) {
  return error?.name === "QuotaExceededError";
}

/** @param {Manifest} manifest */
async function checkInside(manifest) {
  await readBoth(manifest.files).catch((error) => {
    if (error instanceof DOMException) throw error;
    throw new Refused("unreadable", error.message);
  });
}

/**
 * The one write that makes a pack the current one, in the transaction that also sees that
 * every file of it is here and that the newest index still names it.
 * @param {string} route
 * @param {Held} held
 */
async function point(route, held) {
  await transact(["kv", "packs"], "readwrite", async (tx) => {
    const kv = tx.objectStore("kv");
    const files = tx.objectStore("packs");
    for (const sha of [held.sha, ...held.files.map((file) => file.sha256)]) {
      if ((await done(files.count(sha))) === 0) throw new Error(`pack file ${sha} is gone again`);
    }
    const text = (await done(kv.get("index")))?.text;
    const index = text ? signedIndex(text) : null;
    const named = index?.routes.some((one) => one.key === route && one.pack === held.sha) ?? true;
    if (!named) throw new Error(`pack ${held.sha} is no longer the depot's`);
    const packs = /** @type {Record<string, Pointer>} */ ((await done(kv.get("packs"))) ?? {});
    const { [route]: _, ...installing } = (await done(kv.get("installing"))) ?? {};
    const pointer = { current: held, previous: former(packs[route], held), serial: index?.serial };
    await done(kv.put({ ...packs, [route]: pointer }, "packs"));
    await done(kv.put(installing, "installing"));
  });
}

/**
 * The pack to fall back to: the last one that has been opened. One that never was gives
 * no promise, so the one before it stays in its place.
 * @param {Pointer | undefined} pointer
 * @param {Held} held
 */
function former(pointer, held) {
  if (!pointer) return null;
  if (pointer.current.sha === held.sha) return pointer.previous;
  const proven = pointer.opened || !pointer.previous;
  return proven && !pointer.damaged ? pointer.current : pointer.previous;
}

/**
 * Make room by what can be fetched again, never by a report: half fetched packs and those
 * before the current one.
 * @param {{fetching?: string, alsoOtherRoutes?: boolean}} [how] a route whose half fetched
 *   pack stays; whether packs of routes that the driver has not chosen go too
 */
export async function makeRoom({ fetching = "", alsoOtherRoutes = false } = {}) {
  await tidy();
  await transact(["kv", "packs"], "readwrite", async (tx) => {
    const kv = tx.objectStore("kv");
    const packs = /** @type {Record<string, Pointer>} */ ((await done(kv.get("packs"))) ?? {});
    const chosen = await done(kv.get("route"));
    const stay = Object.entries(packs).filter(([route]) => !alsoOtherRoutes || route === chosen);
    await done(kv.put(Object.fromEntries(stay), "packs"));
    const coming = Object.entries((await done(kv.get("installing"))) ?? {}).filter(([route]) => route === fetching);
    await done(kv.put(Object.fromEntries(coming), "installing"));
    await dropBut(tx, [...stay.flatMap(([, one]) => [one.current, one.previous]), ...coming.map(([, one]) => one)]);
  });
}

/**
 * The tablet is so full that not even the pack in use can stay on it: it can be fetched
 * again, a report cannot.
 */
export async function dropAllPacks() {
  await transact(["kv", "packs"], "readwrite", async (tx) => {
    const kv = tx.objectStore("kv");
    await Promise.all([done(kv.put({}, "packs")), done(kv.put({}, "installing"))]);
    await done(tx.objectStore("packs").clear());
  });
}

/**
 * @template T
 * @param {() => T} read
 * @returns {T}
 */
function readable(read) {
  try {
    return read();
  } catch (error) {
    throw new Refused("unreadable", String(error));
  }
}
