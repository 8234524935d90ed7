/** The trip log: sums by stop, hour, rail state and type of train, and nothing else in them. */
import assert from "node:assert/strict";
import { added, cellOf, isClosed, itemsOf, withoutReported } from "../../static/core/counts.js";

const NOW = Date.parse("2026-11-25T06:40:31Z");
const HOUR = 3600_000;
const view = {
  base: { route: { key: "kettle-bay" }, states: [{ key: "dry" }, { key: "leaf" }] },
  trip: { key: "d0512", train_type: "disc" },
  calls: [{ target: { key: "one/down" }, state: 1 }, { target: { key: "two/down" }, state: 0 }],
};
const cell = (more = {}) => ({ ...cellOf(view, 0, NOW), ...more });
let made = 0;
const newId = () => `id-${(made += 1)}`;

Deno.test("a cell holds stop, hour, rail state, type of train, and no more", () => {
  assert.deepEqual(cellOf(view, 0, NOW), {
    route: "kettle-bay", target: "one/down", hour: 6, rail_state: "leaf", train_type: "disc",
  });
  assert.equal(cellOf(view, 2, NOW), null);
});

Deno.test("the hour is the railway's local one, also in summer", () => {
  assert.equal(cellOf(view, 0, Date.parse("2026-07-25T06:40:00Z")).hour, 7);
});

Deno.test("cells of the same kind are summed", () => {
  const twice = added(added({}, cell()), cell());
  assert.deepEqual(Object.values(twice), [2]);
  assert.deepEqual(Object.values(added(twice, cell({ hour: 7 }))), [2, 1]);
});

Deno.test("a report that comes after all takes its approach back, and no other", () => {
  const counts = added(added(added({}, cell()), cell()), cell({ target: "two/down" }));
  const report = { route: "kettle-bay", target: "one/down", at: NOW };
  const less = withoutReported(counts, report);
  assert.deepEqual(Object.values(less), [1, 1]);
  assert.deepEqual(Object.values(withoutReported(less, report)), [1]);
  assert.equal(withoutReported(counts, { ...report, target: "three/down" }), counts);
  assert.equal(withoutReported(counts, { ...report, at: NOW + 5 * HOUR }), counts);
  assert.equal(withoutReported(counts, { ...report, target: null }), counts);
  assert.deepEqual(Object.values(withoutReported(counts, { ...report, at: NOW - HOUR })), [1, 1], "left in the next hour");
});

Deno.test("only a day that is over is handed over, wherever the clock was", () => {
  assert.equal(isClosed("2026-11-25", NOW), false);
  assert.equal(isClosed("2026-11-24", NOW), true);
  assert.equal(isClosed("2031-01-01", NOW), true);
});

Deno.test("what travels is a month with its sums: no day, no order of stops, nothing else", () => {
  const days = {
    "2026-11-23": added(added({}, cell({ target: "z/down" })), cell({ target: "a/down" })),
    "2026-11-24": added({}, cell({ target: "a/down" })),
    "2026-10-31": added({}, cell()),
  };
  const items = itemsOf(days, newId);
  assert.deepEqual(items.map((item) => Object.keys(item)), [["kind", "id", "body"], ["kind", "id", "body"]]);
  assert.deepEqual(items.map((item) => item.body.month), ["2026-10", "2026-11"]);
  assert.deepEqual(items[1].body.cells, [cell({ target: "a/down", n: 2 }), cell({ target: "z/down", n: 1 })]);
  const text = JSON.stringify(items);
  for (const never of ["d0512", "11-24", "06:40", "lat", "position"]) assert.ok(!text.includes(never), never);
  assert.deepEqual(itemsOf({}, newId), []);
});

Deno.test("more cells than an item may hold become several items, none lost", () => {
  let counts = {};
  for (let i = 0; i < 1100; i++) counts = added(counts, cell({ target: `s${i}/down` }));
  const items = itemsOf({ "2026-11-24": counts }, newId);
  assert.deepEqual(items.map((item) => item.body.cells.length), [500, 500, 100]);
  assert.equal(new Set(items.map((item) => item.id)).size, 3);
});
