/**
 * Taking packs over from the depot: the index first, believed only under the depot's
 * signature, then each pack it names. What is refused is said; what is here stays.
 *
 * @import {Store} from "./store.js"
 * @import {SignedIndex, Why} from "../core/index-text.js"
 */

import { checkFollows, Refused, signedIndex } from "../core/index-text.js";
import { newFigures } from "../core/new-figures.js";
import { jsonOf, shortOfRoom, toInstall } from "../core/sync.js";
import { get } from "./api.js";
import { done, transact } from "./idb.js";
import { install } from "./install.js";
import { keep } from "./keep.js";
import { heldIndex, heldPacks, readBoth, showPacks } from "./packs.js";
import { askKeys, askProof } from "./proof.js";
import { checkSigned, pinKey, pinnedKey } from "./verify.js";
import { refreshView } from "./view.js";

/** @param {Store} store */
export async function takePacks(store) {
  const answer = await get("/api/index");
  const body = jsonOf(answer);
  // A depot in trouble answers with a problem: that is a fault, not a false index.
  if (answer.status !== 200 || !body) return;
  try {
    const index = await takeIndex(body, askKeys);
    // Before anything else is asked: from now on the tablet knows.
    withdraw(store, index.withdrawn);
    await confirm(store, body.signed);
    store.set({ refused: await installAll(store, index) });
  } catch (error) {
    if (!(error instanceof Refused)) throw error;
    console.warn(error.message);
    store.set({ refused: error.why });
  }
}

/**
 * Show what is withdrawn by the newest index on the disk: another window may have taken it, and
 * there may be no contact here.
 * @param {Store} store
 */
export async function showWithdrawn(store) {
  withdraw(store, (await heldIndex())?.withdrawn ?? []);
}

/**
 * @param {Store} store
 * @param {import("../core/index-text.js").Withdrawn[]} withdrawn
 */
function withdraw(store, withdrawn) {
  if (JSON.stringify(withdrawn) === JSON.stringify(store.get().withdrawn)) return;
  store.set({ withdrawn });
  refreshView(store);
}

/**
 * Believe an index or refuse it. Key and index are kept in one step: whatever moment the
 * tablet dies, a later one is judged against both.
 * @param {any} body
 * @param {() => Promise<any>} askKeys
 * @returns {Promise<SignedIndex>}
 */
export async function takeIndex(body, askKeys) {
  const pinned = await transact(["kv"], "readonly", pinnedKey);
  const key = await checkSigned(body, pinned, askKeys);
  const index = signedIndex(body.signed);
  await transact(["kv"], "readwrite", async (tx) => {
    const kv = tx.objectStore("kv");
    const meanwhile = await pinnedKey(tx);
    if (meanwhile?.id !== pinned?.id && meanwhile?.id !== key.id) throw new Refused("wrongKey");
    checkFollows((await done(kv.get("index"))) ?? null, index, body.signed);
    await pinKey(tx, key);
    const { serial, withdrawn } = index;
    await done(kv.put({ text: body.signed, serial, withdrawn }, "index"));
  });
  return index;
}

/**
 * From the time at which the depot proves that this very index stands, the age of its packs
 * counts. An index that somebody kept and shows again proves nothing and renews nothing.
 * @param {Store} store
 * @param {string} signed
 */
async function confirm(store, signed) {
  const { proof, older } = await askProof();
  if (!older && proof?.index !== (await sha256(signed))) return;
  const { lapsed, clockOffset } = store.get();
  const now = Date.now();
  const confirmed = proof?.at ?? now + (clockOffset ?? 0);
  store.set({ confirmed, confirmedBy: now });
  if (lapsed !== null) refreshView(store);
  await keep("confirmed", confirmed);
  await keep("confirmed_by", now);
}

/** @param {string} text */
async function sha256(text) {
  const digest = await crypto.subtle.digest("SHA-256", new TextEncoder().encode(text));
  return Array.from(new Uint8Array(digest), (byte) => byte.toString(16).padStart(2, "0")).join("");
}

/**
 * While both packs of a line are whole here, note which stops begin elsewhere by the new one.
 * @param {Store} store
 * @param {string} route
 */
async function noteNewFigures(store, route) {
  const { current, previous } = (await heldPacks())[route] ?? {};
  if (!current || !previous) return;
  const [former, pack] = await Promise.all([previous, current].map(async ({ sha, files }) => ({ sha, ...(await readBoth(files)) })));
  const kept = { ...store.get().newFigures, [route]: newFigures(former, pack) };
  store.set({ newFigures: kept });
  await keep("newFigures", kept);
}

/**
 * One pack that does not come keeps no other from the tablet.
 * @param {Store} store
 * @param {SignedIndex} index
 * @returns {Promise<Why | null>} why one of them was refused
 */
async function installAll(store, index) {
  const wanted = toInstall(index.routes, await heldPacks());
  if (wanted.length > 0) {
    const estimate = (await navigator.storage?.estimate?.().catch(() => null)) ?? {};
    store.set({ fetching: true, roomShort: shortOfRoom(estimate, wanted) });
  }
  /** @type {Why | null} */
  let refused = null;
  for (const route of wanted) {
    try {
      await install(route.key, route.pack, Date.now(), (progress) => store.set({ progress }));
      await noteNewFigures(store, route.key).catch((error) => console.error("new figures not compared", error));
      await showPacks(store);
    } catch (error) {
      console.error("pack not installed", route.key, error);
      if (error instanceof Refused) refused = error.why;
    }
  }
  // Another window may have fetched what this one does not show yet.
  await showPacks(store);
  return refused;
}
