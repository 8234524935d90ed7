import assert from "node:assert/strict";
import { checkFollows, Refused, signedIndex, withdrawal } from "../../static/core/index-text.js";
import { proofOf } from "../../static/core/proof.js";
import { withoutAdvice } from "../../static/core/trip.js";

const sha = "a".repeat(64);
const good = {
  format: "step-in-hand/index",
  version: 1,
  serial: 7,
  published_at: null,
  routes: [{ key: "one", name: "One", pack: sha, bytes: 1, gz_bytes: 1 }],
  withdrawn: [{ route: "two", name: "Two", packs: ["c"], reason: "wrong marks", at: "2026-11-25T07:30:00Z" }],
};

/** @param {() => unknown} work */
function whyOf(work) {
  try {
    work();
  } catch (error) {
    return error instanceof Refused ? error.why : String(error);
  }
  return null;
}

Deno.test("R49: only a text of the known shape is an index", () => {
  assert.deepEqual(signedIndex(JSON.stringify({ ...good, more: "ignored" })).routes, good.routes);
  for (const change of [
    { format: "step-in-hand/base" }, { version: 2 }, { serial: "7" }, { serial: 1.5 }, { serial: null },
    { routes: null }, { routes: [{ key: "one", pack: "../x" }] }, { routes: [null] }, { routes: [{ pack: sha }] },
    { withdrawn: null }, { withdrawn: [{ packs: "c", reason: "x" }] }, { withdrawn: [{ packs: [] }] },
  ]) {
    const why = whyOf(() => signedIndex(JSON.stringify({ ...good, ...change })));
    assert.equal(why, "unreadable", JSON.stringify(change));
  }
  assert.equal(whyOf(() => signedIndex("<html>")), "unreadable");
});

Deno.test("R49: a lower serial is refused, and another text under the same one", () => {
  const held = { text: "as it was", serial: 7, withdrawn: [] };
  const at = (/** @type {number} */ serial) => ({ ...good, serial });
  assert.equal(whyOf(() => checkFollows(held, at(6), "as it was")), "older");
  assert.equal(whyOf(() => checkFollows(held, at(7), "another")), "older");
  assert.equal(whyOf(() => checkFollows(held, at(7), "as it was")), null);
  assert.equal(whyOf(() => checkFollows(held, at(8), "another")), null);
  assert.equal(whyOf(() => checkFollows(null, at(0), "first contact")), null);
});

Deno.test("a pack is withdrawn by its own name, with the reason", () => {
  assert.equal(withdrawal(good.withdrawn, "c")?.reason, "wrong marks");
  assert.equal(withdrawal(good.withdrawn, sha), null);
});

Deno.test("a withdrawn pack leaves no figure, in no row", () => {
  const figures = { status: 0, brake: 500, mark: { index: 1, words: "1 post", far: false }, step: 1, seconds: 9 };
  const row = { kind: "call", advice: { ...figures, worse: figures }, season: 0 };
  const bare = withoutAdvice(/** @type {any} */ ({ rows: [row, row], calls: [row], withdrawn: false }));
  assert.equal(bare.withdrawn, true);
  for (const one of [...bare.rows, ...bare.calls]) {
    assert.equal(one.advice.status, 2);
    assert.deepEqual([one.advice.brake, one.advice.mark, one.advice.step, one.advice.seconds, one.advice.worse], [null, null, null, null, null]);
  }
});

Deno.test("a proof answers the word it was asked with, and no other", () => {
  const said = { format: "step-in-hand/proof", version: 1, n: "one", at: "2026-11-25T06:40:00Z", index: sha };
  assert.deepEqual(proofOf(JSON.stringify({ ...said, more: 1 }), "one"), { at: Date.UTC(2026, 10, 25, 6, 40), index: sha });
  assert.equal(proofOf(JSON.stringify(said), "two"), null, "somebody kept it");
  for (const change of [{ format: "step-in-hand/index" }, { version: 2 }, { at: "soon" }, { index: null }]) {
    assert.equal(proofOf(JSON.stringify({ ...said, ...change }), "one"), null);
  }
  assert.equal(proofOf("<html>", "one"), null);
});
