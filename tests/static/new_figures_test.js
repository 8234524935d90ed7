import assert from "node:assert/strict";
import { changedStops, newFigures } from "../../static/core/new-figures.js";

const golden = JSON.parse(Deno.readTextFileSync(new URL("../golden/lookup.json", import.meta.url)));
const states = ["Dry", "Wet", "Leaf film", "Very low"].map((name, i) => ({ key: name, name, pickable: i < 3 }));
const base = {
  ...golden.base, states, trains: [{ key: "four" }, { key: "eight" }],
  targets: golden.base.targets.map((one) => ({ ...one, approach_speed: [30, 30] })),
};
const former = { sha: "a", base, table: golden.table };
const copy = () => structuredClone({ ...former, sha: "b" });

/** Change one column in every cell of the first stop. */
function figures(column, change) {
  const pack = copy();
  for (const season of pack.table.columns[column]) {
    season[0] = season[0].map((state) => state.map((train) => (Array.isArray(train) ? train.map(change) : change(train))));
  }
  return pack;
}

const key = base.targets[0].key;
const view = (pack, more = {}) => ({
  pack, base, train: { key: "four" }, calls: [{ target: base.targets[0], season: 0, state: 0, ...more }],
});
const told = (pack) => changedStops(newFigures(former, pack), "a", view(pack)).map(({ change, rows }) => [change, rows.length]);

Deno.test("the same figures say nothing", () => {
  assert.deepEqual(newFigures(former, copy()).cells, {});
  assert.deepEqual(told(copy()), []);
});

Deno.test("earlier, later, no advice and another step are told apart", () => {
  assert.deepEqual(told(figures("brake", (value) => value && value + 400)), [["earlier", 1]]);
  assert.deepEqual(told(figures("brake", (value) => value && Math.max(0, value - 400))), [["later", 1]]);
  assert.deepEqual(told(figures("status", () => 1)), [["none", 1]]);
  assert.deepEqual(told(figures("step", (value) => value + 1)), [["other", 1]]);
  const none = { ...figures("status", () => 1), sha: "a" };
  const kept = newFigures(none, copy());
  assert.deepEqual(changedStops(kept, "a", view(copy())).map(({ change }) => change), ["advice"]);
});

Deno.test("a mark that a driver reads the same has not changed", () => {
  const pack = figures("brake", (value) => value && value + 5);
  for (const { change } of changedStops(newFigures(former, pack), "a", view(pack))) assert.equal(change, "earlier");
});

Deno.test("between other packs, for another train or without one nothing is claimed", () => {
  const pack = figures("brake", (value) => value && value + 400);
  const kept = newFigures(former, pack);
  assert.equal(changedStops(kept, "z", view(pack)), null, "the Brief before was of another pack");
  assert.equal(changedStops(kept, undefined, view(pack)), null);
  assert.equal(changedStops(null, "a", view(pack)), null);
  assert.equal(changedStops({ ...kept, to: "z" }, "a", view(pack)), null);
  assert.equal(changedStops(kept, "a", { ...view(pack), train: null }), null);
  assert.deepEqual(changedStops(kept, "a", { ...view(pack), train: { key: "twelve" } }), [], "no such train before");
});

Deno.test("a stop that only one pack has is left out", () => {
  const pack = copy();
  pack.base.targets[0].key = "elsewhere/down";
  assert.ok(!(key in newFigures(former, pack).cells) && !("elsewhere/down" in newFigures(former, pack).cells));
});
