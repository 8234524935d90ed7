/**
 * Keeps contact with the depot: asks whether it is there, fetches packs, sends reports.
 * Every trigger ends here; Background Sync is not relied on.
 *
 * @import {Store} from "./store.js"
 * @import {Contact} from "../core/types.js"
 */

import { CLOCK_WRONG_MS, clockOffset } from "../core/clock.js";
import { contactOf, createOutbox } from "../core/outbox.js";
import { judgePing } from "../core/sync.js";
import { fetchAnswers } from "./answers.js";
import { PING_MS, get, post } from "./api.js";
import { syncRestrictions } from "./ask-restrictions.js";
import { syncWarnings } from "./ask-warnings.js";
import { syncWeather } from "./ask-weather.js";
import { handOver } from "./counts.js";
import { askTablet, WAS_ENROLLED } from "./enrol.js";
import { noteHolding } from "./holding.js";
import { transact } from "./idb.js";
import { installed } from "./installed.js";
import { ifFree } from "./locks.js";
import * as rows from "./outbox-rows.js";
import { recall } from "./keep.js";
import { askProof, servesOurIndex } from "./proof.js";
import { readAll } from "./rows.js";
import { showWithdrawn, takePacks } from "./take-packs.js";
import { pinnedKey } from "./verify.js";
import { refreshView } from "./view.js";
import { showWarnings } from "./warnings.js";

const EVERY_MS = 30_000;

/**
 * @param {Store} store
 * @param {string} build
 */
export function createNetwork(store, build) {
  const outbox = createOutbox({
    request: post,
    admit: () => admit(store),
    store: { waiting: rows.waiting, freeze: rows.freeze, settle: rows.settle },
    lock: ifFree,
    now: Date.now,
    elapsed: () => performance.now(),
    random: Math.random,
    installId: rows.installId,
    build,
    installed,
    changed: () => void showRows(),
  });
  /** @type {Promise<void> | null} */
  let syncing = null;

  async function showRows() {
    try {
      store.set(await readAll());
    } catch (error) {
      console.error("outbox cannot be read", error);
    }
  }

  /**
   * @param {boolean} byHand
   * @param {boolean} [newNetwork]
   */
  async function flush(byHand, newNetwork = false) {
    if (!(await rows.waiting()).length) return showRows();
    store.set({ sending: true });
    await outbox.flush({ byHand, newNetwork });
    store.set({ sending: false });
    // Nothing may have been sent, and another window may have changed the rows all the same.
    await showRows();
    if (outbox.contact() !== "unknown") store.set({ contact: outbox.contact() });
  }

  function sync() {
    syncing ??= syncOnce(store, tellDepot, offerAll).finally(() => (syncing = null));
    return syncing;
  }

  /**
   * A depot that was put back to an older state gets again what is still held here, at once.
   * @param {import("../core/again.js").Depot | null} depot
   */
  async function offerAll(depot) {
    const { clockOffset } = store.get();
    if (!depot || !(await rows.offerAgain(depot, clockOffset === null ? null : Date.now() + clockOffset))) return;
    void flush(false, true).catch((error) => console.error("flush failed", error));
  }

  /** Say what is held here, beside whatever else is going on. */
  function tellDepot() {
    noteHolding(store, build)
      .then((some) => (some ? flush(false) : undefined))
      .catch((error) => console.error("depot not told what is held", error));
  }

  /** @param {Event} [event] */
  async function all(event) {
    // Beside each other: a report does not wait for a pack to come down first.
    const contact = sync();
    await handOver(store).catch((error) => console.error("counts not handed over", error));
    await flush(false, event?.type === "online").catch((error) => console.error("flush failed", error));
    await contact;
  }

  function start() {
    addEventListener("online", all);
    addEventListener("pageshow", all);
    document.addEventListener("visibilitychange", () => document.visibilityState === "visible" && all());
    setInterval(() => document.visibilityState === "visible" && all(), EVERY_MS);
    return all();
  }

  return { flush, sync, start };
}

/**
 * A tablet that was ever enrolled gives what lies here to the depot whose key it keeps, and to
 * no other, whatever who answers now says of it. One that never was knows no depot.
 * @param {Store} store
 * @returns {Promise<Contact | null>} null: it may have it
 */
async function admit(store) {
  const enrolled = store.get().tablet?.enrolled || (await recall(WAS_ENROLLED));
  if (!enrolled || !(await transact(["kv"], "readonly", pinnedKey))) return null;
  const { proof, contact, older } = await askProof();
  if (proof) return null;
  return older ? servesOurIndex() : contact;
}

/**
 * @param {Store} store
 * @param {() => void} tellDepot
 * @param {(depot: import("../core/again.js").Depot | null) => Promise<void>} offerAll
 */
async function syncOnce(store, tellDepot, offerAll) {
  await showWithdrawn(store).catch((error) => console.error("index cannot be read", error));
  const contact = await ping(store);
  store.set({ contact, asking: contact === "online" });
  if (contact !== "online") return;
  await askTablet(store).then(offerAll).catch((error) => console.error("tablet not known", error));
  await fetchWarnings(store);
  // At once and not after the packs: somebody at the desk waits for it.
  tellDepot();
  await fetchRestrictions(store);
  await fetchWeather(store);
  await fetchAnswers(store).catch((error) => console.error("answers not fetched", error));
  try {
    await takePacks(store);
  } catch (error) {
    console.error("packs not fetched", error);
  } finally {
    store.set({ asking: false, fetching: false, progress: null });
  }
  tellDepot();
}

/**
 * @param {Store} store
 * @returns {Promise<Contact>}
 */
async function ping(store) {
  const nonce = crypto.randomUUID();
  const sentAt = Date.now();
  try {
    const answer = await get(`/api/ping?n=${nonce}`, { deadline: PING_MS });
    const { contact, serverTime } = judgePing(answer, nonce);
    const offset = serverTime === null ? null : clockOffset(sentAt, Date.now(), serverTime);
    if (offset !== null) setOffset(store, offset);
    return contact;
  } catch (error) {
    return contactOf(error);
  }
}

/**
 * @param {Store} store
 * @param {number} offset
 */
function setOffset(store, offset) {
  const moved = Math.abs(offset - (store.get().clockOffset ?? 0)) > CLOCK_WRONG_MS;
  store.set({ clockOffset: offset });
  // The season may be another one by the depot's clock: do not wait for the next minute.
  if (moved) refreshView(store);
}

/**
 * Before the packs: a warning is small and cannot wait for them.
 * @param {Store} store
 */
async function fetchWarnings(store) {
  const before = JSON.stringify(store.get().warnings.rows);
  await syncWarnings(store).catch((error) => console.error("warnings not fetched", error));
  await showWarnings(store);
  if (JSON.stringify(store.get().warnings.rows) !== before) refreshView(store);
}

/** @param {Store} store */
async function fetchRestrictions(store) {
  const changed = await syncRestrictions(store).catch((error) => console.error("restrictions not fetched", error));
  if (changed) refreshView(store);
}

/** @param {Store} store */
async function fetchWeather(store) {
  const before = store.get().weather.rows;
  await syncWeather(store).catch((error) => console.error("weather not fetched", error));
  if (store.get().weather.rows !== before) refreshView(store);
}
