/**
 * The outbox: nothing is lost, nothing counts twice. Look at the rows, send them, and
 * delete a row only after a parsed answer named it as stored. Everything from outside
 * comes in by ``deps``, so that each failure can be acted out in a test.
 *
 * @import {Answer, Contact, OutboxRow} from "./types.js"
 * @typedef {{id: string, result: string, server_no?: number, received_at?: string, code?: string,
 *   errors?: unknown}} Result
 * @typedef {{id: string, serverNo: number | null, receivedAt: string}} Ack
 * @typedef {{id: string, code: string, reason: string}} Park
 * @typedef {{
 *   waiting: () => Promise<OutboxRow[]>,
 *   freeze: (ids: string[], at: number) => Promise<void>,
 *   settle: (acks: Ack[], parks: Park[]) => Promise<void>,
 * }} OutboxStore
 * @typedef {{
 *   request: (path: string, body: string) => Promise<Answer>,
 *   store: OutboxStore,
 *   lock: (name: string, work: () => Promise<void>) => Promise<boolean>,
 *   now: () => number,
 *   elapsed: () => number,
 *   random: () => number,
 *   installId: () => Promise<string>,
 *   build: string,
 *   changed: () => void,
 * }} OutboxDeps
 * @typedef {{kind: "results", results: Result[]} | {kind: "later", contact: Contact, wait: number | null}
 *   | {kind: "big"} | {kind: "refused", code: string, reason: string}} Verdict
 */

export const LOCK = "outbox-flush";
export const MOST_ITEMS = 50;
export const MOST_BYTES = 250 * 1024;
const FIRST_WAIT_MS = 5_000;
const LONGEST_WAIT_MS = 300_000;
const LATER = new Set([408, 425, 429]);

/** @param {OutboxDeps} deps */
export function createOutbox(deps) {
  let failures = 0;
  let notBefore = -Infinity;
  let most = MOST_ITEMS;
  /** @type {Promise<void> | null} */
  let running = null;
  let again = false;
  /** @type {Contact} */
  let contact = "unknown";

  /** @param {Verdict & {kind: "later"}} verdict */
  function wait(verdict) {
    contact = verdict.contact;
    const pause = backOff(failures, deps.random());
    failures += 1;
    notBefore = deps.elapsed() + Math.max(pause, verdict.wait ?? 0);
  }

  /** @returns {Promise<boolean>} whether there may be more to send */
  async function sendOnce() {
    const rows = batchOf(await deps.store.waiting(), most);
    if (rows.length === 0) return false;
    // Frozen before the first byte leaves: whatever the depot saw, this row still says.
    await deps.store.freeze(rows.map((row) => row.id), deps.now());
    const verdict = await post(rows);
    if (verdict.kind === "later") return wait(verdict), false;
    if (verdict.kind === "results") return await settle(rows, verdict.results);
    if (rows.length > 1) {
      most = Math.ceil(rows.length / 2);
      return true;
    }
    const { code, reason } = verdict.kind === "big" ? { code: "too_large", reason: "" } : verdict;
    await deps.store.settle([], [{ id: rows[0].id, code, reason }]);
    most = MOST_ITEMS;
    return true;
  }

  /** @param {OutboxRow[]} rows */
  async function post(rows) {
    const body = JSON.stringify({
      install_id: await deps.installId(),
      sent_at: new Date(deps.now()).toISOString(),
      app_build: deps.build,
      items: rows.map((row) => row.item),
    });
    try {
      return judge(await deps.request("/api/outbox", body), deps.now());
    } catch (error) {
      return { kind: /** @type {const} */ ("later"), contact: contactOf(error), wait: null };
    }
  }

  /**
   * @param {OutboxRow[]} rows
   * @param {Result[]} results
   */
  async function settle(rows, results) {
    const { acks, parks, left } = sort(rows, results);
    if (acks.length + parks.length > 0) await deps.store.settle(acks, parks);
    if (left > 0) {
      wait({ kind: "later", contact: "online", wait: null });
      return false;
    }
    contact = "online";
    failures = 0;
    most = MOST_ITEMS;
    return true;
  }

  async function drain() {
    try {
      do {
        again = false;
        while (await sendOnce()) deps.changed();
      } while (again && deps.elapsed() >= notBefore);
    } catch {
      // The tablet's own storage failed: the rows are where they were. Try later.
      wait({ kind: "later", contact: "fault", wait: null });
    }
    deps.changed();
  }

  /**
   * Send what waits. A second call during a flush is folded into the first.
   * @param {{byHand?: boolean}} [how] by hand: do not sit out the back-off
   * @returns {Promise<void>}
   */
  function flush(how = {}) {
    if (how.byHand) [failures, notBefore] = [0, -Infinity];
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
 * As many rows as fit, in the order they were saved.
 * @param {OutboxRow[]} rows
 * @param {number} most
 */
export function batchOf(rows, most) {
  const sorted = rows.toSorted((a, b) => a.seq - b.seq);
  let bytes = 0;
  const fits = sorted.slice(0, most).findIndex((row) => {
    bytes += new TextEncoder().encode(JSON.stringify(row.item)).length + 1;
    return bytes > MOST_BYTES;
  });
  return sorted.slice(0, fits < 0 ? most : Math.max(1, fits));
}

/**
 * What an answer is worth. Only the depot's own words count: a page of some other
 * network, whatever its status, means "later".
 * @param {Answer} answer
 * @param {number} now
 * @returns {Verdict}
 */
export function judge(answer, now) {
  const wait = retryAfter(answer.retryAfter, now);
  const body = parsed(answer);
  const status = answer.status;
  if (status === 413) return { kind: "big" };
  if (status === 200) {
    if (body && Array.isArray(body.results)) return { kind: "results", results: body.results };
    return { kind: "later", contact: body ? "fault" : "portal", wait };
  }
  if (LATER.has(status) || status >= 500) return { kind: "later", contact: "fault", wait };
  if (!body || typeof body.code !== "string") return { kind: "later", contact: "portal", wait };
  if (status === 401 || status === 403) return { kind: "later", contact: "enrol", wait };
  if (status < 400) return { kind: "later", contact: "portal", wait };
  return { kind: "refused", code: body.code, reason: String(body.detail ?? body.title ?? "") };
}

/**
 * @param {Answer} answer
 * @returns {Record<string, any> | null}
 */
function parsed(answer) {
  if (!/^application\/(problem\+)?json\b/.test(answer.type)) return null;
  try {
    const body = JSON.parse(answer.text);
    return body !== null && typeof body === "object" ? body : null;
  } catch {
    return null;
  }
}

/**
 * @param {string | null} header
 * @param {number} now
 * @returns {number | null} milliseconds
 */
function retryAfter(header, now) {
  if (!header) return null;
  const seconds = /^\d+$/.test(header) ? Number(header) * 1000 : Date.parse(header) - now;
  return Number.isFinite(seconds) ? Math.min(Math.max(0, seconds), 3600_000) : null;
}

/**
 * @param {OutboxRow[]} rows
 * @param {Result[]} results
 */
function sort(rows, results) {
  const asked = new Set(rows.map((row) => row.id));
  /** @type {Ack[]} */
  const acks = [];
  /** @type {Park[]} */
  const parks = [];
  for (const one of results) {
    if (!one || !asked.delete(one.id)) continue;
    if (one.result === "created" || one.result === "duplicate") {
      acks.push({ id: one.id, serverNo: one.server_no ?? null, receivedAt: one.received_at ?? "" });
    } else if (one.result === "rejected") {
      parks.push({ id: one.id, code: one.code ?? "rejected", reason: reasonOf(one.errors) });
    } else {
      asked.add(one.id);
    }
  }
  return { acks, parks, left: asked.size };
}

/** @param {unknown} errors */
function reasonOf(errors) {
  return errors === undefined || errors === null ? "" : JSON.stringify(errors).slice(0, 500);
}

/**
 * @param {unknown} error
 * @returns {Contact}
 */
export function contactOf(error) {
  const name = error instanceof Error ? error.name : "";
  return name === "TimeoutError" || name === "AbortError" ? "slow" : "offline";
}
