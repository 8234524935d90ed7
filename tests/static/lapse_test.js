// When a pack is too old to be advice.

import assert from "node:assert/strict";
import { lapsedDays } from "../../static/core/lapse.js";

const DAY = 86_400_000;
const HEARD = Date.UTC(2026, 10, 1);
/** As an app of before kept it: by the depot's clock alone. */
const OLD = { at: HEARD, by: null };
const base = /** @type {any} */ ({ settings: {} });

/** @param {Partial<import("../../static/core/warnings.js").Reading>} change */
function reading(change) {
  return { now: HEARD, offset: 0, kept: null, heard: null, ...change };
}

Deno.test("r81: sixty days count, not a moment more, unless the company says otherwise", () => {
  assert.equal(lapsedDays(base, OLD, reading({ now: HEARD + 60 * DAY })), null);
  assert.equal(lapsedDays(base, OLD, reading({ now: HEARD + 60 * DAY + 1 })), 60);
  const strict = /** @type {any} */ ({ settings: { pack_days: 7 } });
  assert.equal(lapsedDays(strict, OLD, reading({ now: HEARD + 8 * DAY })), 8);
});

Deno.test("r81: with contact the depot's clock counts, without it the later reading", () => {
  const slow = { now: HEARD - 300 * DAY, offset: 361 * DAY };
  assert.equal(lapsedDays(base, OLD, reading(slow)), 61);
  assert.equal(lapsedDays(base, OLD, reading({ now: HEARD, offset: null, heard: HEARD + 70 * DAY })), 70);
  assert.equal(lapsedDays(base, OLD, reading({ now: HEARD - 8 * DAY, offset: null })), null);
});

Deno.test("r81: a clock that is wrong is held against itself alone", () => {
  // The depot's clock is 400 days slow, then 400 fast: its packs are as old as they are.
  for (const wrong of [-400 * DAY, 400 * DAY]) {
    const confirmed = { at: HEARD + wrong, by: HEARD };
    const later = { now: HEARD + 3 * DAY, offset: wrong, heard: HEARD + wrong };
    assert.equal(lapsedDays(base, confirmed, reading(later)), null);
    // Set right since, and no contact: the tablet's own clock goes on.
    const alone = { now: HEARD + 61 * DAY, offset: null, kept: wrong, heard: HEARD + wrong };
    assert.equal(lapsedDays(base, confirmed, reading(alone)), 61);
  }
});

Deno.test("r81: whatever somebody says the time is makes no pack younger", () => {
  const confirmed = { at: HEARD, by: HEARD };
  const told = { now: HEARD + 90 * DAY, offset: -90 * DAY, kept: -90 * DAY, heard: HEARD };
  assert.equal(lapsedDays(base, confirmed, reading(told)), 90);
});
