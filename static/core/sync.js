/**
 * Whether the depot is really there, and which packs are to be fetched from it.
 *
 * @import {Answer, Contact, PackFile, Manifest} from "./types.js"
 * @typedef {{key: string, name: string, pack: string, bytes: number, gz_bytes: number}} IndexRoute
 */

export const SHA = /^[0-9a-f]{64}$/;

/**
 * "Online" means that the depot itself answered and repeated the word it was given.
 * @param {Answer} answer
 * @param {string} nonce
 * @returns {{contact: Contact, serverTime: string | null}}
 */
export function judgePing(answer, nonce) {
  if (answer.status === 511) return { contact: "portal", serverTime: null };
  if (answer.status >= 500) return { contact: "fault", serverTime: null };
  const body = jsonOf(answer);
  if (answer.status !== 200 || !body || body.n !== nonce) {
    return { contact: "portal", serverTime: null };
  }
  return { contact: "online", serverTime: String(body.server_time ?? "") };
}

/**
 * @param {Answer} answer
 * @returns {any} null unless it says JSON and is JSON
 */
export function jsonOf(answer) {
  if (!/^application\/(problem\+)?json\b/.test(answer.type)) return null;
  try {
    return JSON.parse(answer.text);
  } catch {
    return null;
  }
}

/**
 * Routes whose newest pack is not on the tablet yet, or is but does not open.
 * @param {IndexRoute[]} routes
 * @param {Record<string, {current: {sha: string}, damaged?: boolean} | undefined>} held by route
 */
export function toInstall(routes, held) {
  return routes.filter(({ key, pack }) => held[key]?.current.sha !== pack || held[key]?.damaged);
}

/**
 * Whether the tablet should be told that its room is short: below three times a pack.
 * @param {{quota?: number, usage?: number}} estimate
 * @param {IndexRoute[]} routes
 * @returns {{freeMb: number, packMb: number} | null}
 */
export function shortOfRoom({ quota, usage }, routes) {
  const largest = Math.max(0, ...routes.map((route) => route.bytes || 0));
  if (quota === undefined || usage === undefined || quota - usage >= 3 * largest) return null;
  return { freeMb: Math.max(0, Math.floor((quota - usage) / 1e6)), packMb: Math.ceil(largest / 1e6) };
}

/**
 * @param {unknown} body
 * @returns {Manifest}
 */
export function checkedManifest(body) {
  const manifest = /** @type {any} */ (body);
  expect(manifest, "step-in-hand/manifest");
  const files = /** @type {PackFile[]} */ (manifest.files);
  for (const kind of ["base", "table"]) {
    if (!files.some((file) => file.kind === kind)) throw new Error(`pack has no ${kind}`);
  }
  if (!files.every((file) => SHA.test(file.sha256))) throw new Error("pack names a file wrongly");
  return manifest;
}

/**
 * Unknown fields are ignored, an unknown version is refused.
 * @param {any} body
 * @param {string} format
 */
export function expect(body, format) {
  if (body?.format !== format) throw new Error(`expected ${format}, got ${body?.format}`);
  if (body.version !== 1) throw new Error(`${format}: version ${body.version} is unknown here`);
}

/**
 * Names of stored pack files that no kept manifest needs any more.
 * @param {string[]} stored
 * @param {{sha: string, files: PackFile[]}[]} kept
 */
export function unneeded(stored, kept) {
  const needed = new Set(kept.flatMap((pack) => [pack.sha, ...pack.files.map((f) => f.sha256)]));
  return stored.filter((sha) => !needed.has(sha));
}
