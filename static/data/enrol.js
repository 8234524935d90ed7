/**
 * Whether the depot knows this tablet, and making it known by a code from the desk. All
 * inside the installed app: its cookies are its own.
 *
 * @import {Store} from "./store.js"
 * @typedef {{enrolled: boolean, valid: boolean, label: string | null}} Tablet
 * @typedef {"done" | "wrong" | "other" | "wait" | "silent"} Enrolled
 */

import { depotOf } from "../core/again.js";
import { namesKey } from "../core/code.js";
import { jsonOf } from "../core/sync.js";
import { get, post } from "./api.js";
import { TOLD } from "./holding.js";
import { done, transact } from "./idb.js";
import { keep } from "./keep.js";
import { PROVEN } from "./proof.js";
import { keyOf, pinKey } from "./verify.js";
import { KEY as WARNED } from "./warnings.js";

const KEPT = "tablet";
/** For good: no depot that answers later takes it back. */
export const WAS_ENROLLED = "was_enrolled";

/**
 * Ask the depot; what it says is kept, so that it stands there without signal too.
 * @param {Store} store
 * @returns {Promise<import("../core/again.js").Depot | null>} which history the depot is in
 */
export async function askTablet(store) {
  const answer = await get("/api/tablet");
  const said = jsonOf(answer);
  if (answer.status !== 200 || !answer.ours || typeof said?.enrolled !== "boolean") return null;
  await show(store, { enrolled: said.enrolled, valid: said.valid === true, label: said.label ?? null });
  return depotOf(said);
}

/**
 * @param {Store} store
 * @param {string} code as typed
 * @returns {Promise<Enrolled>}
 */
export async function enrol(store, code) {
  try {
    const key = await keyOf(jsonOf(await get("/api/keys")));
    // Nothing of the code goes to whoever answers here unless its key is the one it names.
    if (key && !namesKey(code, key.id)) return "other";
    const answer = await post("/api/enrol", JSON.stringify({ code: code.slice(0, 40) }));
    if (!answer.ours) return "silent";
    if (answer.status === 429) return "wait";
    if (answer.status === 403 || answer.status === 422) return "wrong";
    const said = jsonOf(answer);
    if (answer.status !== 200 || said?.enrolled !== true) return "silent";
    await startAfresh(key);
    await show(store, { enrolled: true, valid: true, label: said.label ?? null });
    return "done";
  } catch {
    return "silent";
  }
}

/**
 * From now on this depot's key counts, and its order of indexes: somebody at the desk has
 * just vouched for it. Without its answer the key kept before stays.
 * @param {import("./verify.js").Key | null} key
 */
async function startAfresh(key) {
  if (!key) return;
  await transact(["kv"], "readwrite", async (tx) => {
    await pinKey(tx, key);
    await done(tx.objectStore("kv").delete("index"));
    // To the depot it is another tablet now, of which it has heard nothing.
    await done(tx.objectStore("kv").delete(TOLD));
    // Whether it can prove itself is asked again as well.
    await done(tx.objectStore("kv").delete(PROVEN));
    // The whole of the warnings again: who told of them is for tablets that are known.
    const cursor = await done(tx.objectStore("kv").get(WARNED));
    if (cursor) await done(tx.objectStore("kv").put({ ...cursor, feedNo: 0, mark: "" }, WARNED));
  });
}

/**
 * @param {Store} store
 * @param {Tablet} tablet
 */
async function show(store, tablet) {
  if (tablet.enrolled || store.get().tablet?.enrolled) await keep(WAS_ENROLLED, true);
  store.set({ tablet });
  await keep(KEPT, tablet);
}
