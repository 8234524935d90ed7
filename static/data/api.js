/**
 * The only door to the depot. Every request has a deadline that also covers the reading
 * of its answer: a network that swallows packets must not hold up the next try.
 *
 * @import {Answer} from "../core/types.js"
 */

import { MARK, PROTOCOL } from "../core/agreed.js";

export const PING_MS = 5_000;
export const REQUEST_MS = 20_000;

/**
 * @param {string} path
 * @param {RequestInit} init
 * @param {number} deadline
 * @returns {Promise<Response & {signal?: AbortSignal}>}
 */
function send(path, init, deadline) {
  return fetch(path, {
    ...init,
    // A redirect is some other network speaking; it shows as status 0.
    redirect: "manual",
    credentials: "same-origin",
    cache: "no-store",
    signal: AbortSignal.timeout(deadline),
  });
}

/**
 * @param {Response} response
 * @returns {Promise<Answer>}
 */
async function answerOf(response) {
  return {
    status: response.type === "opaqueredirect" ? 302 : response.status,
    type: response.headers.get("Content-Type") ?? "",
    text: await response.text(),
    retryAfter: response.headers.get("Retry-After"),
    ours: response.headers.get(MARK) === PROTOCOL,
  };
}

/**
 * @param {string} path
 * @param {{deadline?: number, etag?: string | null}} [how]
 * @returns {Promise<Answer & {etag: string | null}>}
 */
export async function get(path, { deadline = REQUEST_MS, etag = null } = {}) {
  const headers = etag ? { "If-None-Match": etag } : undefined;
  const response = await send(path, { headers }, deadline);
  return { ...(await answerOf(response)), etag: response.headers.get("ETag") };
}

/**
 * @param {string} path
 * @param {string} body JSON
 * @returns {Promise<Answer>}
 */
export async function post(path, body) {
  const headers = { "Content-Type": "application/json", [MARK]: PROTOCOL };
  return answerOf(await send(path, { method: "POST", headers, body }, REQUEST_MS));
}

/**
 * @param {string} path
 * @returns {Promise<ArrayBuffer>} the bytes themselves, whatever they are; the caller checks them
 */
export async function getBytes(path) {
  const response = await send(path, {}, REQUEST_MS * 3);
  if (response.status !== 200) throw new Error(`${path}: status ${response.status}`);
  return response.arrayBuffer();
}
