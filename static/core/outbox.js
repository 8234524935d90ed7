/**
 * The outbox: nothing is lost, nothing counts twice. Look at the rows, send them, and
 * delete a row only after a parsed answer named it as stored. Nothing here ever expires.
 * Everything from outside comes in by ``deps``, so that each failure can be acted out in
 * a test.
 *
 * @import {Answer, Contact, OutboxRow} from "./types.js"
 * @import {Ack, Park, Result, Verdict} from "./answer.js"
 * @typedef {{
 *   waiting: () => Promise<OutboxRow[]>,
 *   freeze: (ids: string[], at: number) => Promise<OutboxRow[]>,
 *   settle: (acks: Ack[], parks: Park[]) => Promise<void>,
 * }} OutboxStore freeze gives the rows as they stand from now on; one that is gone or parked is left out
 * @typedef {{
 *   request: (path: string, body: string) => Promise<Answer>,
 *   admit?: () => Promise<Contact | null>,
 *   store: OutboxStore,
 *   lock: (name: string, work: () => Promise<void>) => Promise<boolean>,
 *   now: () => number,
 *   elapsed: () => number,
 *   random: () => number,
 *   installId: () => Promise<string>,
 *   build: string,
 *   installed: () => boolean,
 *   changed: () => void,
 * }} OutboxDeps admit: null when who answers may have what lies here, else why not
 */

import { offeredOf } from "./again.js";
import { MOST_ITEMS } from "./agreed.js";
import { contactOf, judge, sortResults } from "./answer.js";

export { contactOf, judge };

export const LOCK = "outbox-flush";
export const MOST_BYTES = 250 * 1024;
const SHORTEST_WAIT_MS = 1_000;
const FIRST_WAIT_MS = 5_000;
const LONGEST_WAIT_MS = 300_000;
/** What does not count is offered again so seldom; at once when the tablet is enrolled. */
const UNTIL_ENROLLED_MS = 900_000;

/** @param {OutboxDeps} deps */
export function createOutbox(deps) {
  let failures = 0;
  let notBefore = -Infinity;
  /** The depot itself asked for this pause; a new network is no reason to break it. */
  let asked = false;
  let admitted = false;
  let most = MOST_ITEMS;
  /** Too large for some server on the way, or not counted yet: others first. @type {Set<string>} */
  const aside = new Set();
  /** The depot said of some that they count only once this tablet is enrolled. */
  let notEnrolled = false;
  /** @type {Promise<void> | null} */
  let running = null;
  let again = false;
  /** @type {Contact} */
  let contact = "unknown";

  /** @param {{contact: Contact, wait?: number | null, asked?: boolean}} verdict */
  function wait(verdict) {
    contact = verdict.contact;
    asked = verdict.asked ?? false;
    // Whoever names a time is asked again then: a front server that is back in a second must
    // not cost the five minutes that a long silence before it had grown to.
    const named = verdict.wait ?? null;
    const pause = named === null ? backOff(failures, deps.random()) : Math.max(SHORTEST_WAIT_MS, named);
    failures += 1;
    notBefore = deps.elapsed() + pause;
    return false;
  }

  /** @returns {Promise<boolean>} whether there may be more to send */
  async function sendOnce() {
    const there = (await deps.store.waiting()).filter((row) => !aside.has(row.id));
    const picked = batchOf(there, most);
    if (picked.length === 0) {
      if (notEnrolled) return wait({ contact: "enrol", wait: UNTIL_ENROLLED_MS, asked: true });
      return aside.size > 0 && wait({ contact: "portal" });
    }
    // Frozen before the first byte leaves, and sent as frozen: whatever the depot saw,
    // these rows still say. Another window may have changed them since they were read.
    const rows = await deps.store.freeze(picked.map((row) => row.id), deps.now());
    if (rows.length === 0) return false;
    // Asked once a flush: who answers at this address may be another depot.
    const stranger = admitted ? null : await deps.admit?.();
    if (stranger) return wait({ contact: stranger });
    admitted = true;
    const verdict = await post(rows);
    if (verdict.kind === "later") return wait(verdict);
    if (verdict.kind === "results") return await settle(rows, verdict.results);
    return await refused(rows, verdict);
  }

  /** @param {OutboxRow[]} rows */
  async function post(rows) {
    const body = JSON.stringify({
      install_id: await deps.installId(),
      sent_at: new Date(deps.now()).toISOString(),
      app_build: deps.build,
      installed: deps.installed(),
      items: rows.map((row) => row.item),
      ...offeredOf(rows),
    });
    try {
      return judge(await deps.request("/api/outbox", body), deps.now());
    } catch (error) {
      return { kind: /** @type {const} */ ("later"), contact: contactOf(error), wait: null, asked: false };
    }
  }

  /**
   * The whole batch was refused: find the one it is about by halving, and park that alone.
   * @param {OutboxRow[]} rows
   * @param {Verdict & {kind: "big" | "refused"}} verdict
   */
  async function refused(rows, verdict) {
    if (rows.length > 1) {
      most = Math.ceil(rows.length / 2);
      return true;
    }
    most = MOST_ITEMS;
    const [{ id }] = rows;
    if (verdict.kind === "refused") await deps.store.settle([], [{ id, code: verdict.code, reason: verdict.reason }]);
    else if (verdict.ours) await deps.store.settle([], [{ id, code: "too_large", reason: "" }]);
    else aside.add(id);
    return true;
  }

  /**
   * @param {OutboxRow[]} rows
   * @param {Result[]} results
   */
  async function settle(rows, results) {
    const { acks, parks, apart, left } = sortResults(rows, results);
    if (acks.length + parks.length > 0) await deps.store.settle(acks, parks);
    for (const id of apart) aside.add(id);
    notEnrolled ||= apart.length > 0;
    if (left > 0) return wait({ contact: "online" });
    contact = "online";
    failures = 0;
    most = MOST_ITEMS;
    return true;
  }

  async function drain() {
    aside.clear();
    admitted = false;
    notEnrolled = false;
    try {
      do {
        again = false;
        while (await sendOnce()) deps.changed();
      } while (again && deps.elapsed() >= notBefore);
    } catch {
      // The tablet's own storage failed: the rows are where they were. Try later.
      wait({ contact: "storage" });
    }
    deps.changed();
  }

  /**
   * Send what waits. A second call during a flush is folded into the first.
   * @param {{byHand?: boolean, newNetwork?: boolean}} [how] by hand: begin the back-off again;
   *   new network: do not sit out a pause that the old one caused
   * @returns {Promise<void>}
   */
  function flush({ byHand = false, newNetwork = false } = {}) {
    if (byHand) failures = 0;
    if (byHand || (newNetwork && !asked)) notBefore = -Infinity;
    again = running !== null;
    if (running) return running;
    if (deps.elapsed() < notBefore) return Promise.resolve();
    running = deps.lock(LOCK, drain).then(ended, ended);
    return running;
  }

  function ended() {
    running = null;
    // A call that came after the last look at the rows would otherwise be forgotten.
    if (again) return flush();
  }

  return {
    flush,
    /** Milliseconds until the next try is worth while. */
    pause: () => Math.max(0, notBefore - deps.elapsed()),
    contact: () => contact,
  };
}

/**
 * Doubling pause with jitter: 5 s to 5 min.
 * @param {number} failures before this one
 * @param {number} random 0 to 1
 */
export function backOff(failures, random) {
  const full = Math.min(LONGEST_WAIT_MS, FIRST_WAIT_MS * 2 ** Math.min(failures, 10));
  return Math.max(FIRST_WAIT_MS, Math.round(full * (0.5 + random / 2)));
}

/**
 * As many rows as fit: reports in the order of their numbers, then what has no number.
 * @param {OutboxRow[]} rows
 * @param {number} most
 */
export function batchOf(rows, most) {
  const sorted = rows.toSorted(inOrder);
  let bytes = 0;
  const fits = sorted.slice(0, most).findIndex((row) => {
    bytes += new TextEncoder().encode(JSON.stringify(row.item)).length + 1;
    return bytes > MOST_BYTES;
  });
  return sorted.slice(0, fits < 0 ? most : Math.max(1, fits));
}

/**
 * @param {OutboxRow} a
 * @param {OutboxRow} b
 */
export function inOrder(a, b) {
  const [first, second] = [a.seq ?? Number.MAX_VALUE, b.seq ?? Number.MAX_VALUE];
  return first === second ? a.savedAt - b.savedAt : first - second;
}
