/**
 * What an answer to the outbox is worth. Only the depot's own words count: a page of some
 * other network, whatever its status and its form, means "later".
 *
 * @import {Answer, Contact, OutboxRow} from "./types.js"
 * @typedef {{id: string, result: string, server_no?: number, received_at?: string, code?: string,
 *   errors?: unknown}} Result
 * @typedef {{id: string, serverNo: number | null, receivedAt: string, removed?: boolean}} Ack removed:
 *   on request, so it goes here as well
 * @typedef {{id: string, code: string, reason: string}} Park
 * @typedef {{kind: "results", results: Result[]} | {kind: "later", contact: Contact, wait: number | null,
 *     asked: boolean}
 *   | {kind: "big", ours: boolean} | {kind: "refused", code: string, reason: string}} Verdict
 *   asked: the depot itself asks for this wait
 */

const LATER = new Set([408, 425, 429]);
/** The statuses by which the depot refuses what a batch holds; any other is about the call. */
const REFUSES = new Set([400, 422]);
/** The depot does not count what this tablet sends, or had no room for it: it is not enrolled. */
const NOT_ENROLLED = new Set([
  "received_not_counted", "no_room", "not_enrolled", "too_many_not_enrolled", "disk_low",
]);
/** A depot may ask for this much; some other network for no more than we would wait anyway. */
const LONGEST_ASKED_MS = 3600_000;
const LONGEST_FOREIGN_MS = 300_000;

/**
 * @param {Answer} answer
 * @param {number} now
 * @returns {Verdict}
 */
export function judge(answer, now) {
  const { status, ours } = answer;
  const wait = retryAfter(answer.retryAfter, now, ours ? LONGEST_ASKED_MS : LONGEST_FOREIGN_MS);
  const body = parsed(answer);
  /** @param {Contact} contact @returns {Verdict} */
  const later = (contact) => ({ kind: "later", contact, wait, asked: ours && wait !== null });
  if (status === 413) return { kind: "big", ours: ours && body !== null };
  // 511: a network that wants a log-in first says so itself (RFC 6585).
  if (status === 511) return later("portal");
  if (LATER.has(status) || status >= 500) return later(ours && NOT_ENROLLED.has(body?.code) ? "enrol" : "fault");
  if (!ours || !body) return later("portal");
  if (status === 200) {
    if (Array.isArray(body.results)) return { kind: "results", results: body.results };
    return later("fault");
  }
  if (status < 400 || typeof body.code !== "string") return later("fault");
  if (status === 401 || status === 403) return later("enrol");
  if (!REFUSES.has(status)) return later("fault");
  return { kind: "refused", code: body.code, reason: plainReason(body.errors) || String(body.detail ?? "") };
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
 * @param {number} most
 * @returns {number | null} milliseconds
 */
function retryAfter(header, now, most) {
  if (!header) return null;
  const asked = /^\d+$/.test(header) ? Number(header) * 1000 : Date.parse(header) - now;
  return Number.isFinite(asked) ? Math.min(Math.max(0, asked), most) : null;
}

/**
 * What became of each row that was sent. A row that no result names stays where it is; so does
 * one that is not counted until this tablet is enrolled (`apart`).
 * @param {OutboxRow[]} rows
 * @param {Result[]} results
 */
export function sortResults(rows, results) {
  const asked = new Set(rows.map((row) => row.id));
  /** @type {Ack[]} */
  const acks = [];
  /** @type {Park[]} */
  const parks = [];
  /** @type {string[]} */
  const apart = [];
  for (const one of results) {
    if (!one || !asked.delete(one.id)) continue;
    if (one.result === "created" || one.result === "duplicate") {
      acks.push({ id: one.id, serverNo: one.server_no ?? null, receivedAt: one.received_at ?? "" });
    } else if (one.result === "removed") {
      acks.push({ id: one.id, serverNo: null, receivedAt: "", removed: true });
    } else if (one.result === "rejected") {
      parks.push({ id: one.id, code: one.code ?? "rejected", reason: plainReason(one.errors) });
    } else if (NOT_ENROLLED.has(one.code ?? "")) {
      apart.push(one.id);
    } else {
      asked.add(one.id);
    }
  }
  return { acks, parks, apart, left: asked.size };
}

/**
 * The depot's faults by field as a person reads them: "found: Send one of: good, expected."
 * @param {unknown} errors
 * @returns {string}
 */
export function plainReason(errors) {
  return [...new Set(sentences(errors, ""))].join(" ").slice(0, 500);
}

/**
 * @param {unknown} errors
 * @param {string} field
 * @returns {string[]}
 */
function sentences(errors, field) {
  if (errors === undefined || errors === null) return [];
  if (Array.isArray(errors)) return errors.flatMap((one) => sentences(one, field));
  if (typeof errors === "object") {
    return Object.entries(errors).flatMap(([name, one]) => sentences(one, /^\d+$|^_/.test(name) ? field : name));
  }
  return [field ? `${field}: ${errors}` : String(errors)];
}

/**
 * @param {unknown} error
 * @returns {Contact}
 */
export function contactOf(error) {
  const name = error instanceof Error ? error.name : "";
  return name === "TimeoutError" || name === "AbortError" ? "slow" : "offline";
}
