/**
 * Packs on the tablet: fetch what is missing, check every byte against its name, then
 * switch with one write. The pack before stays until the new one has been opened.
 *
 * @import {Manifest, Pack, PackFile, Pictures} from "../core/types.js"
 * @typedef {{sha: string, name: string, files: PackFile[], fetchedAt: number}} Held
 * @typedef {{current: Held, previous: Held | null, serial?: number, opened?: boolean,
 *   damaged?: boolean}} Pointer opened: the current pack has been opened once without error;
 *   serial: of the index that named it
 */

import { Refused, signedIndex } from "../core/index-text.js";
import { checkedManifest, expect, unneeded } from "../core/sync.js";
import { getBytes } from "./api.js";
import { done, transact } from "./idb.js";
import { recall } from "./keep.js";
import { ifFree } from "./locks.js";

/**
 * Files already here are not fetched again, and one comes after the other: a cut costs
 * one file at most.
 * @param {string} route
 * @param {string} sha name of the pack
 * @param {number} now
 * @returns {Promise<boolean>} false: another window is at it
 */
export function install(route, sha, now) {
  return ifFree("packs", async () => {
    const bytes = await bring(route, sha, () => begin(route, sha, []));
    const manifest = readable(() => checkedManifest(json(bytes)));
    if (manifest.route !== route) throw new Refused("damaged", `pack ${sha} is for ${manifest.route}`);
    await begin(route, sha, manifest.files);
    for (const file of manifest.files) await bring(route, file.sha256);
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

/**
 * @param {string} sha
 * @returns {Promise<ArrayBuffer | undefined>}
 */
function stored(sha) {
  return transact(["packs"], "readonly", (tx) => done(tx.objectStore("packs").get(sha)));
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

/** @returns {Promise<Record<string, Pointer>>} by route */
export async function heldPacks() {
  return (await recall("packs")) ?? {};
}

/**
 * Let go of what nobody needs: packs before the current one once that has been opened,
 * but for the one of the trip in hand, and files of no pack. What is being fetched stays.
 */
async function tidy() {
  await transact(["kv", "packs"], "readwrite", async (tx) => {
    const kv = tx.objectStore("kv");
    const packs = /** @type {Record<string, Pointer>} */ ((await done(kv.get("packs"))) ?? {});
    const inHand = (await done(kv.get("prep")))?.pack;
    for (const pointer of Object.values(packs)) {
      if (pointer.opened && pointer.previous?.sha !== inHand) pointer.previous = null;
    }
    await done(kv.put(packs, "packs"));
    const coming = Object.values((await done(kv.get("installing"))) ?? {});
    await dropBut(tx, [...Object.values(packs).flatMap((one) => [one.current, one.previous]), ...coming]);
  });
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
 * @param {IDBTransaction} tx over the store `packs`
 * @param {(Pick<Held, "sha" | "files"> | null)[]} kept
 */
async function dropBut(tx, kept) {
  const files = tx.objectStore("packs");
  const names = (await done(files.getAllKeys())).map(String);
  for (const sha of unneeded(names, kept.filter((one) => one !== null))) await done(files.delete(sha));
}

/**
 * Open a pack; one that does not open is noted, so that it is fetched again, and the one
 * before it steps in.
 * @param {string} route
 * @param {string | null} sha a pack chosen before; null for the current one
 * @returns {Promise<Pack | null>}
 */
export async function openPack(route, sha) {
  const pointer = (await heldPacks())[route];
  if (!pointer) return null;
  const order = [pointer.current, pointer.previous].filter((one) => one !== null);
  const wanted = order.find((one) => one.sha === sha) ?? order[0];
  for (const held of [wanted, ...order.filter((one) => one !== wanted)]) {
    const both = await readBoth(held.files).catch((error) => {
      console.error("pack does not open", held.sha, error);
      return null;
    });
    if (held === pointer.current) await noteOpened(route, pointer, both !== null);
    if (both) return { sha: held.sha, ...both, files: held.files, fetchedAt: held.fetchedAt };
  }
  return null;
}

/**
 * @param {string} route
 * @param {Pointer} pointer
 * @param {boolean} well
 */
async function noteOpened(route, pointer, well) {
  if (well ? pointer.opened && !pointer.damaged : pointer.damaged) return;
  try {
    await transact(["kv"], "readwrite", async (tx) => {
      const kv = tx.objectStore("kv");
      const packs = /** @type {Record<string, Pointer>} */ (await done(kv.get("packs")));
      if (packs[route]?.current.sha !== pointer.current.sha) return;
      packs[route] = { ...packs[route], opened: well, damaged: !well };
      await done(kv.put(packs, "packs"));
    });
    if (well) await tidy();
  } catch (error) {
    // The pack itself is open: a note that cannot be kept now is made the next time.
    console.error("opening not noted", error);
  }
}

/**
 * @param {PackFile[]} files
 * @returns {Promise<Pick<Pack, "base" | "table">>}
 */
async function readBoth(files) {
  const name = fileOf(files, "base");
  const base = await readJson(name, "step-in-hand/base");
  const table = await readJson(fileOf(files, "table"), "step-in-hand/table");
  if (table.base !== name) throw new Error("the pack's table belongs to another base");
  return { base, table };
}

/**
 * @param {Pack} pack
 * @param {string} train
 * @returns {Promise<Pictures | null>}
 */
export async function openPictures(pack, train) {
  const file = pack.files.find((one) => one.name === `pictures-${train}`);
  if (!file) return null;
  try {
    return await readJson(file.sha256, "step-in-hand/pictures");
  } catch {
    return null;
  }
}

/**
 * @param {PackFile[]} files
 * @param {string} kind
 */
function fileOf(files, kind) {
  const file = files.find((one) => one.kind === kind);
  if (!file) throw new Error(`pack has no ${kind}`);
  return file.sha256;
}

/**
 * @param {string} sha
 * @param {string} format
 */
async function readJson(sha, format) {
  const bytes = await stored(sha);
  if (!bytes || (await sha256(bytes)) !== sha) throw new Error(`pack file ${sha} is not whole on the tablet`);
  const body = json(bytes);
  expect(body, format);
  return body;
}

/**
 * @param {ArrayBuffer} bytes
 * @returns {any}
 */
function json(bytes) {
  return JSON.parse(new TextDecoder().decode(bytes));
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

/** @param {ArrayBuffer} bytes */
async function sha256(bytes) {
  const digest = new Uint8Array(await crypto.subtle.digest("SHA-256", bytes));
  return [...digest].map((byte) => byte.toString(16).padStart(2, "0")).join("");
}
