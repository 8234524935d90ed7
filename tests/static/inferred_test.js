/** What nobody surveyed is said in one line, for this direction and this part of the line only. */
import assert from "node:assert/strict";
import { inferredWords } from "../../static/core/inferred.js";
import { words as german } from "../../static/words/de.js";
import { words } from "../../static/words/en.js";

const MILE = 1609.344;
const entry = (/** @type {string} */ what, /** @type {number} */ from, /** @type {number} */ to, /** @type {string | null} */ direction = null) =>
  ({ what, direction, from_m: from * MILE, to_m: to * MILE, how: "from the map" });
/** @param {object[]} inferred @param {[number, number]} part @param {any} [w] */
function said(inferred, [from, to], w = words) {
  const base = { route: { distance_unit: "mi-ch" }, inferred };
  return inferredWords(/** @type {any} */ (base), "down", from * MILE, to * MILE, w);
}

Deno.test("a stretch is named with its two ends, in either language", () => {
  const one = [entry("gradient", 12, 14)];
  assert.equal(said(one, [8, 53]), "Inferred, not surveyed: gradient 12 mi 00 ch to 14 mi 00 ch");
  assert.equal(said(one, [53, 8], german), "Erschlossen, nicht vermessen: Neigung 12 mi 00 ch bis 14 mi 00 ch");
});

Deno.test("only what lies in the part asked about is said, and no further than its ends", () => {
  const some = [entry("gradient", 12, 14), entry("mark", 13, 13, "down"), entry("mark", 13.5, 13.5, "up")];
  assert.equal(said(some, [8, 11]), null);
  assert.equal(said(some, [13, 20]), "Inferred, not surveyed: gradient 13 mi 00 ch to 14 mi 00 ch; stop mark 13 mi 00 ch");
});

Deno.test("touching stretches are one, and many places are a span and a number", () => {
  const touching = [entry("speed", 10, 11), entry("speed", 11, 12)];
  assert.equal(said(touching, [8, 53]), "Inferred, not surveyed: speed 10 mi 00 ch to 12 mi 00 ch");
  const many = [9, 11, 13].map((at) => entry("mark", at, at, "down"));
  assert.equal(said(many, [8, 53]), "Inferred, not surveyed: stop mark 9 mi 00 ch to 13 mi 00 ch (3 places)");
});

Deno.test("a surveyed line, and a pack of before, say nothing; a kind of a later pack is said", () => {
  assert.equal(said([], [8, 53]), null);
  const before = /** @type {any} */ ({ route: { distance_unit: "km" } });
  assert.equal(inferredWords(before, "down", 0, 1e6, words), null);
  assert.match(said([entry("cant", 9, 10)], [8, 53]) ?? "", /: cant 9 mi/);
});
