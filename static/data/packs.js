/**
 * Packs that are on the tablet: which there are, opening one, letting go of what nobody
 * needs. Nothing here asks the network.
 *
 * @import {HeldIndex} from "../core/index-text.js"
 * @import {Pack, PackFile, Pictures} from "../core/types.js"
 * @import {Store} from "./store.js"
 * @typedef {{sha: string, name: string, files: PackFile[], fetchedAt: number}} Held
 * @typedef {{current: Held, previous: Held | null, serial?: number, opened?: boolean,
 *   damaged?: boolean}} Pointer opened: the current pack has been opened once without error;
 *   serial: of the index that named it
 */

import { namedIn } from "../core/names.js";
import { expect, unneeded } from "../core/sync.js";
import { done, transact } from "./idb.js";
import { keep, recall } from "./keep.js";

/** @returns {Promise<HeldIndex | undefined>} the newest index this tablet believed */
export function heldIndex() {
  return recall("index");
}

/** @returns {Promise<Record<string, Pointer>>} by route */
export async function heldPacks() {
  return (await recall("packs")) ?? {};
}

/**
 * Let go of what nobody needs: packs before the current one once that has been opened,
 * but for the one of the trip in hand, and files of no pack. What is being fetched stays.
 */
export async function tidy() {
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
 * @param {IDBTransaction} tx over the store `packs`
 * @param {(Pick<Held, "sha" | "files"> | null)[]} kept
 */
export async function dropBut(tx, kept) {
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
export async function readBoth(files) {
  const name = fileOf(files, "base");
  const base = await readJson(name, "step-in-hand/base");
  const table = await readJson(fileOf(files, "table"), "step-in-hand/table");
  if (table.base !== name) throw new Error("the pack's table belongs to another base");
  return { base: namedIn(base, document.documentElement.lang), table };
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
export function json(bytes) {
  return JSON.parse(new TextDecoder().decode(bytes));
}

/**
 * @param {string} sha
 * @returns {Promise<ArrayBuffer | undefined>}
 */
export function stored(sha) {
  return transact(["packs"], "readonly", (tx) => done(tx.objectStore("packs").get(sha)));
}

/** @param {ArrayBuffer} bytes */
export async function sha256(bytes) {
  const digest = new Uint8Array(await crypto.subtle.digest("SHA-256", bytes));
  return [...digest].map((byte) => byte.toString(16).padStart(2, "0")).join("");
}

/**
 * Tell the screens which packs are here; where none is in use, open the first that is whole.
 * @param {Store} store
 */
export async function showPacks(store) {
  if (!store.get().pack) await openFirst(store);
  const held = await heldPacks();
  const packs = Object.fromEntries(
    Object.entries(held).map(([key, { current, previous, damaged = false }]) => {
      const { sha, name, fetchedAt } = damaged && previous ? previous : current;
      return [key, { sha, name, fetchedAt, damaged: damaged && !previous }];
    }),
  );
  if (JSON.stringify(packs) !== JSON.stringify(store.get().packs)) store.set({ packs });
}

/** @param {Store} store */
async function openFirst(store) {
  for (const route of Object.keys(await heldPacks())) {
    const pack = await openPack(route, null);
    if (!pack) continue;
    store.set({ pack });
    await keep("route", route);
    return;
  }
}
