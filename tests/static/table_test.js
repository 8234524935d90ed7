import assert from "node:assert/strict";
import { inSeason, lookUp, seasonOf } from "../../static/core/table.js";

const golden = JSON.parse(
  Deno.readTextFileSync(new URL("../golden/lookup.json", import.meta.url)),
);

Deno.test("every golden look-up gives the answer Python gave", () => {
  assert.ok(golden.queries.length >= 300);
  for (const { ask, answer } of golden.queries) {
    assert.deepEqual(lookUp(golden.base, golden.table, ask), answer, JSON.stringify(ask));
  }
});

Deno.test("a speed that is no number gives no advice", () => {
  for (const speed of [NaN, Infinity, -Infinity]) {
    const ask = { target: 0, train: 0, state: 0, season: 0, speed };
    assert.equal(lookUp(golden.base, golden.table, ask).status, 2);
  }
});

Deno.test("a higher speed never gives a later brake point", () => {
  for (let target = 0; target < 3; target++) {
    let before = 0;
    for (let speed = 1; speed <= 60; speed++) {
      const { brake } = lookUp(golden.base, golden.table, { target, train: 0, state: 0, season: 0, speed });
      assert.ok(brake >= before, `${target} at ${speed}`);
      before = brake;
    }
  }
});

Deno.test("a season may run over the new year", () => {
  const season = { from: "10-01", to: "01-15" };
  assert.equal(inSeason(season, "2026-12-24"), true);
  assert.equal(inSeason(season, "2027-01-15"), true);
  assert.equal(inSeason(season, "2027-01-16"), false);
  assert.equal(inSeason(season, "2026-09-30"), false);
  assert.equal(inSeason({ from: "03-01", to: "04-30" }, "2026-03-01"), true);
  assert.equal(inSeason(null, "2026-07-01"), true);
});

Deno.test("a target is in season while any of its listed places is", () => {
  const base = {
    listed: [
      { key: "a", season: { from: "10-01", to: "12-13" } },
      { key: "b", season: { from: "01-01", to: "02-01" } },
      { key: "c", season: null },
    ],
  };
  assert.equal(seasonOf(base, { listed: ["a", "b"] }, "2026-11-25"), 1);
  assert.equal(seasonOf(base, { listed: ["b"] }, "2026-11-25"), 0);
  assert.equal(seasonOf(base, { listed: ["c"] }, "2026-07-01"), 1);
  assert.equal(seasonOf(base, { listed: [] }, "2026-11-25"), 0);
  assert.equal(seasonOf(base, { listed: ["b"] }, null), 1, "nobody knows the day: it counts");
  assert.equal(seasonOf(base, { listed: [] }, null), 0);
});
