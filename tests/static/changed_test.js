import assert from "node:assert/strict";
import { changeOf, scopeOf, shownOf, withShown } from "../../static/core/changed.js";
import { words } from "../../static/words/en.js";

const w = words.card.changed;
const MINUTE = 60_000;
const SIX = new Date(2026, 10, 27, 6, 10).getTime();
const scope = scopeOf({ route: "golden", trip: "t1", state: "damp", stateAt: SIX });
const landmarks = [100, 200, 300].map((at_m) => ({ at_m }));
const view = (more = {}) => ({ base: { landmarks }, direction: { sign: 1 }, pack: { sha: "a" }, w9: null, ...more });
const row = (advice = {}, more = {}) => ({
  advice: {
    status: 0, flags: 0, mark: { index: 1 }, step: 0, speeds: [{ words: "ramp", speed: 20 }],
    worse: { status: 0, flags: 0, mark: { index: 0 }, step: 0 }, ...advice,
  },
  warned: null, ...more,
});
const warned = (id = "w1") => ({ warned: { warning: { id, rev: 1 } } });
const before = shownOf(view(), row());
const shownAt = (kept, shown, minute, moved = false) => withShown(kept, { scope, key: "a", shown, now: SIX + minute * MINUTE, moved });
const said = (kept, shown) => {
  const change = changeOf(kept, { scope, key: "a", shown }, w);
  return change && w.since(change.since, change.what);
};
/** What is said of a card that was shown at 06:10 and is now another one. */
const change = (now, seen = view()) => said(shownAt(null, before, 0), shownOf(seen, now));

Deno.test("a card that was never shown, or is as it was, says nothing", () => {
  assert.equal(said(null, before), null);
  assert.equal(change(row()), null);
  assert.equal(changeOf(shownAt(null, before, 0), { scope, key: "b", shown: before }, w), null);
});

Deno.test("what changed is said in the order of its weight, with the reason", () => {
  const nearer = { mark: { index: 2 } };
  const further = { mark: { index: 0 } };
  const cases = [
    [row(further, warned()), "begins earlier (warned)"],
    [row({ ...further, step: 1 }, warned()), "begins earlier, heavier step (warned)"],
    [row(nearer), "begins later"],
    [row({ flags: 2, mark: null }), "begins later"],
    [row({ worse: { status: 1, mark: null, step: null } }), "the place if worse"],
    [row({ speeds: [{ words: "ramp", speed: 15 }] }, { lowered: ["r1"] }), "lower speeds (notice)"],
    [row({ speeds: [{ words: "board", speed: 25 }] }), "other speeds"],
    [row({ status: 1, mark: null }, warned()), "now too slippery (warned)"],
    [row({ status: -1, mark: null }), "no advice now"],
    [row({}, warned()), "warned"],
  ];
  for (const [now, words] of cases) assert.equal(change(now), `Changed since 06:10: ${words}`);
  assert.equal(change(row(further), view({ pack: { sha: "b" } })), "Changed since 06:10: begins earlier (new pack)");
  assert.equal(change(row(further), view({ w9: "3" })), "Changed since 06:10: begins earlier (old rail state)");
  assert.equal(change(row(), view({ pack: { sha: "b" } })), null, "a new pack that says the same");
  const heavy = shownAt(null, shownOf(view(), row({ step: 1 })), 0);
  assert.equal(said(heavy, shownOf(view(), row({ step: 0 }))), "Changed since 06:10: lighter step");
});

Deno.test("the same card in another language is no change", () => {
  const names_in = { de: { ramp: "Rampe" } };
  const german = view({ base: { landmarks, names_in, spoken: "de" } });
  assert.equal(change(row({ speeds: [{ words: "Rampe", speed: 20 }] }), german), null);
  assert.equal(change(row({ speeds: [{ words: "Rampe", speed: 15 }] }), german), "Changed since 06:10: lower speeds");
});

Deno.test("against the direction of the posts earlier is higher", () => {
  const up = view({ direction: { sign: -1 } });
  const kept = shownAt(null, shownOf(up, row()), 0);
  assert.equal(said(kept, shownOf(up, row({ mark: { index: 2 } }))), "Changed since 06:10: begins earlier");
});

Deno.test("it stays through the stand, a restart and the run, and is gone at the next stand", () => {
  const after = shownOf(view(), row({ mark: { index: 0 } }, warned()));
  const words = "Changed since 06:30: begins earlier (warned)";
  let kept = shownAt(shownAt(null, before, 0), before, 20);
  assert.equal(said(kept, after), words);
  kept = structuredClone(shownAt(kept, after, 31));
  assert.equal(said(kept, after), words);
  kept = shownAt(kept, after, 40);
  assert.equal(said(kept, after), words, "the driver may have looked away");
  kept = shownAt(kept, after, 50, true);
  assert.equal(said(kept, after), null);
});

Deno.test("changed on the run and shown at the next stand: said there too", () => {
  const after = shownOf(view(), row({ mark: { index: 0 } }, warned()));
  const kept = shownAt(shownAt(null, before, 0), after, 30, true);
  assert.equal(said(kept, after), "Changed since 06:10: begins earlier (warned)");
  assert.equal(said(shownAt(kept, before, 31), before), "Changed since 06:40: begins later (warning over)");
});

Deno.test("the driver's own answers are no news, and nothing is written for nothing", () => {
  const kept = shownAt(null, before, 0);
  const other = scopeOf({ route: "golden", trip: "t1", state: "leaf", stateAt: SIX });
  assert.equal(changeOf(kept, { scope: other, key: "a", shown: shownOf(view(), row({ mark: { index: 0 } })) }, w), null);
  assert.equal(shownAt(kept, before, 0.5), kept);
  assert.notEqual(shownAt(kept, before, 2), kept);
});
