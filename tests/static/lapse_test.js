// When a pack is too old to be advice.

import assert from "node:assert/strict";
import { lapsedDays } from "../../static/core/lapse.js";

const DAY = 86_400_000;
const HEARD = Date.UTC(2026, 10, 1);
const base = /** @type {any} */ ({ settings: {} });

/** @param {Partial<import("../../static/core/warnings.js").Reading>} change */
function reading(change) {
  return { now: HEARD, offset: 0, kept: null, heard: null, ...change };
}

Deno.test("r81: sixty days count, not a moment more, unless the company says otherwise", () => {
  assert.equal(lapsedDays(base, HEARD, reading({ now: HEARD + 60 * DAY })), null);
  assert.equal(lapsedDays(base, HEARD, reading({ now: HEARD + 60 * DAY + 1 })), 60);
  const strict = /** @type {any} */ ({ settings: { pack_days: 7 } });
  assert.equal(lapsedDays(strict, HEARD, reading({ now: HEARD + 8 * DAY })), 8);
});

Deno.test("r81: with contact the depot's clock counts, without it the later reading", () => {
  const slow = { now: HEARD - 300 * DAY, offset: 361 * DAY };
  assert.equal(lapsedDays(base, HEARD, reading(slow)), 61);
  assert.equal(lapsedDays(base, HEARD, reading({ now: HEARD, offset: null, heard: HEARD + 70 * DAY })), 70);
  assert.equal(lapsedDays(base, HEARD, reading({ now: HEARD - 8 * DAY, offset: null })), null);
});
