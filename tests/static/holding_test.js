/** Receipts: what is new to the depot, once, and nothing of a driver in it. */
import assert from "node:assert/strict";
import { isFull, joined, news, withSeen } from "../../static/core/holding.js";

const PACKS = { "kettle-bay": "a".repeat(64), "larch": "b".repeat(64) };
const row = (id, rev) => ({ id, rev, status: "published" });
const holding = (rows, seen = {}, packs = PACKS) => ({ packs, rows, seen });

Deno.test("the first receipt names packs, warnings taken in, warnings shown, and no more", () => {
  const { body } = news(undefined, holding([row("w2", 3), row("w1", 2)], { w1: 2 }), "b1");
  assert.deepEqual(body, {
    packs: [{ route: "kettle-bay", pack: PACKS["kettle-bay"] }, { route: "larch", pack: PACKS.larch }],
    received: [{ warning: "w1", rev: 2 }, { warning: "w2", rev: 3 }],
    seen: [{ warning: "w1", rev: 2 }],
  });
});

Deno.test("nothing new, no receipt; then only what is new", () => {
  const first = news(undefined, holding([row("w1", 2)]), "b1");
  assert.equal(news(first.told, holding([row("w1", 2)]), "b1"), null);
  const second = news(first.told, holding([row("w1", 3), row("w2", 2)], { w1: 2 }), "b1");
  assert.deepEqual(second.body.received, [{ warning: "w1", rev: 3 }, { warning: "w2", rev: 2 }]);
  assert.deepEqual(second.body.seen, [{ warning: "w1", rev: 2 }]);
  assert.equal(news(second.told, holding([row("w1", 3), row("w2", 2)], { w1: 2 }), "b1"), null);
});

Deno.test("another pack is news, and so is a line that is gone", () => {
  const first = news(undefined, holding([]), "b1");
  assert.deepEqual(news(first.told, holding([], {}, { larch: PACKS.larch }), "b1").body.packs,
    [{ route: "larch", pack: PACKS.larch }]);
});

Deno.test("what is no longer held is neither said nor remembered", () => {
  const first = news(undefined, holding([row("w1", 2)], { w1: 2 }), "b1");
  assert.equal(news(first.told, holding([], { w1: 2 }), "b1"), null, "that it ended the depot knows");
  const next = news(first.told, holding([row("w2", 2)], { w1: 2 }), "b1");
  assert.deepEqual(next.told.received, { w2: 2 });
  assert.deepEqual(next.told.seen, {});
});

Deno.test("another build says all of it again", () => {
  const first = news(undefined, holding([row("w1", 2)]), "b1");
  assert.deepEqual(news(first.told, holding([row("w1", 2)]), "b2").body.received, [{ warning: "w1", rev: 2 }]);
});

Deno.test("a receipt that has not left takes the next one in", () => {
  const a = { packs: [], received: [{ warning: "w1", rev: 2 }], seen: [] };
  const b = { packs: [{ route: "x", pack: "p" }], received: [{ warning: "w1", rev: 3 }], seen: [{ warning: "w1", rev: 3 }] };
  assert.deepEqual(joined(a, b), b);
});

Deno.test("a receipt stays small; the rest comes with the next", () => {
  const rows = Array.from({ length: 700 }, (_, i) => row(`w${String(i).padStart(3, "0")}`, 2));
  const first = news(undefined, holding(rows), "b1");
  assert.equal(first.body.received.length, 500);
  assert.equal(isFull(first.body), true);
  assert.equal(news(first.told, holding(rows), "b1").body.received.length, 200);
});

Deno.test("a warning without a revision is not spoken of", () => {
  assert.deepEqual(news(undefined, holding([{ id: "w1" }]), "b1").body.received, []);
});

Deno.test("what a Brief showed is noted once for each revision", () => {
  const seen = withSeen({}, [row("w1", 2)], [row("w1", 2), row("w2", 2)]);
  assert.deepEqual(seen, { w1: 2 });
  assert.equal(withSeen(seen, [row("w1", 2)], [row("w1", 2)]), null);
  assert.deepEqual(withSeen(seen, [row("w1", 3)], [row("w1", 3)]), { w1: 3 });
  assert.deepEqual(withSeen(seen, [row("w2", 2)], [row("w2", 2)]), { w2: 2 }, "one that ended is forgotten");
});

Deno.test("what a restored depot does not name is told whole, once for each revision", () => {
  const whole = {
    id: "w1", rev: 2, line: "l", direction: "down", datum: "d", from_m: 1, to_m: 2, state: "leaf", reason: "", from_at: "t",
    review_at: null, told_by: "", reference: "",
  };
  const marked = { ...whole, feed_no: 9, status: "published", heldBefore: true };
  const first = news(undefined, { packs: {}, rows: [marked], seen: {} }, "b");
  assert.deepEqual(first?.body.before, [whole]);
  assert.equal(news(first?.told, { packs: {}, rows: [marked], seen: {} }, "b"), null);
  const plain = news(undefined, { packs: {}, rows: [{ ...marked, heldBefore: false }], seen: {} }, "b");
  assert.equal("before" in plain.body, false, "an older depot would refuse it");
});
