/**
 * Copies of what the depot does not have: as a file, and as text to share. Both work with
 * no network.
 *
 * @import {Store} from "../data/store.js"
 */

import { dayOf } from "../core/age.js";
import { unsentFile, unsentText } from "../core/unsent.js";
import { BUILD } from "../data/build.js";
import { h } from "../elements/dom.js";
import { words } from "../words/chosen.js";

const w = words.outbox;

/**
 * @param {Store} store
 * @param {string} [id] only this one; all without it
 */
export async function keepCopy(store, id) {
  const { rows, receipts } = store.get();
  const now = Date.now();
  // A storage that does not answer must not keep the driver from a copy of what is shown.
  const installId = await store.act.installId().catch(() => "unknown");
  const picked = id ? rows.filter((row) => row.id === id) : rows;
  const file = unsentFile(picked, id ? [] : receipts, { installId, build: BUILD, now });
  const blob = new Blob([JSON.stringify(file, null, 2)], { type: "application/json" });
  const name = id ? `report-${id}.json` : `reports-held-${dayOf(now)}.json`;
  const link = h("a", { href: URL.createObjectURL(blob), download: name });
  link.click();
  setTimeout(() => URL.revokeObjectURL(link.href), 60_000);
}

/**
 * @param {Store} store
 * @returns {Promise<string>} what to tell the driver
 */
export function shareText(store) {
  const { rows, receipts, pack } = store.get();
  return giveText(unsentText(rows, receipts, pack?.base ?? null, words));
}

/**
 * @param {string} text
 * @returns {Promise<string>} what to tell the driver
 */
export async function giveText(text) {
  try {
    if ("share" in navigator) {
      await navigator.share({ text });
      return "";
    }
    await /** @type {Navigator} */ (navigator).clipboard.writeText(text);
    return w.copied;
  } catch (error) {
    // The driver closed the system's own sheet: nothing went wrong.
    return error instanceof DOMException && error.name === "AbortError" ? "" : w.notCopied;
  }
}
