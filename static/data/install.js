/**
 * Packs on the tablet: fetch what is missing, check every byte against its name, then
 * switch with one write. The pack before stays until the new one has been opened.
 *
 * @import {Manifest, Pack, PackFile, Pictures} from "../core/types.js"
 * @typedef {{sha: string, name: string, files: PackFile[], fetchedAt: number}} Held
 * @typedef {{current: Held, previous: Held | null}} Pointer
 */

import { checkedManifest, expect, unneeded } from "../core/sync.js";
import { getBytes } from "./api.js";
import { done, transact } from "./idb.js";
import { recall } from "./keep.js";

/**
 * @param {string} route
 * @param {string} sha name of the pack
 * @param {number} now
 */
export async function install(route, sha, now) {
  const manifest = checkedManifest(json(await fetchFile(sha)));
  if (manifest.route !== route) throw new Error(`pack ${sha} is for ${manifest.route}, not ${route}`);
  await Promise.all(manifest.files.map((file) => fetchFile(file.sha256)));
  await checkInside(manifest);
  await point(route, { sha, name: manifest.name, files: manifest.files, fetchedAt: now });
  await tidy();
}

/**
 * A file already held is not fetched again; one that is not what its name says is refused.
 * @param {string} sha
 * @returns {Promise<ArrayBuffer>}
 */
async function fetchFile(sha) {
  const held = await stored(sha);
  if (held) return held;
  const bytes = await getBytes(`/packs/${sha}`);
  if ((await sha256(bytes)) !== sha) throw new Error(`pack file ${sha} arrived damaged`);
  await transact(["packs"], "readwrite", (tx) => done(tx.objectStore("packs").put(bytes, sha)));
  return bytes;
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
  const base = fileOf(manifest.files, "base");
  const table = await readJson(fileOf(manifest.files, "table"), "step-in-hand/table");
  await readJson(base, "step-in-hand/base");
  if (table.base !== base) throw new Error("the pack's table belongs to another base");
}

/**
 * @param {string} route
 * @param {Held} held
 */
async function point(route, held) {
  await transact(["kv"], "readwrite", async (tx) => {
    const kv = tx.objectStore("kv");
    const packs = /** @type {Record<string, Pointer>} */ ((await done(kv.get("packs"))) ?? {});
    const former = packs[route]?.current ?? null;
    const previous = former && former.sha !== held.sha ? former : (packs[route]?.previous ?? null);
    await done(kv.put({ ...packs, [route]: { current: held, previous } }, "packs"));
  });
}

/** @returns {Promise<Record<string, Pointer>>} by route */
export async function heldPacks() {
  return (await recall("packs")) ?? {};
}

async function tidy() {
  const packs = await heldPacks();
  const kept = Object.values(packs).flatMap((one) => [one.current, one.previous]);
  const needed = kept.filter((one) => one !== null);
  await transact(["packs"], "readwrite", async (tx) => {
    const files = tx.objectStore("packs");
    const names = (await done(files.getAllKeys())).map(String);
    for (const sha of unneeded(names, needed)) await done(files.delete(sha));
  });
}

/**
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
    try {
      const base = await readJson(fileOf(held.files, "base"), "step-in-hand/base");
      const table = await readJson(fileOf(held.files, "table"), "step-in-hand/table");
      return { sha: held.sha, base, table, files: held.files, fetchedAt: held.fetchedAt };
    } catch (error) {
      console.error("pack does not open", held.sha, error);
    }
  }
  return null;
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
  if (!bytes) throw new Error(`pack file ${sha} is not on the tablet`);
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

/** @param {ArrayBuffer} bytes */
async function sha256(bytes) {
  const digest = new Uint8Array(await crypto.subtle.digest("SHA-256", bytes));
  return [...digest].map((byte) => byte.toString(16).padStart(2, "0")).join("");
}
