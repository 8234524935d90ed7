import assert from "node:assert/strict";
import { brakeAt, FLAG_NOTHING_ADDED, FLAG_WSP, inSeason, isAdvised, lookUp, NO_STOP, NOT_COMPUTED, OK, seasonOf } from "../../static/core/table.js";

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

Deno.test("the numbers of the pack's format", () => {
  assert.deepEqual([OK, NO_STOP, NOT_COMPUTED, FLAG_WSP, FLAG_NOTHING_ADDED], [0, 1, 2, 1, 2]);
});

Deno.test("advice needs a mark, unless nothing is added", () => {
  const mark = { index: 0, words: "post", far: false };
  assert.ok(isAdvised({ status: OK, flags: 0, mark }));
  assert.ok(isAdvised({ status: OK, flags: FLAG_NOTHING_ADDED, mark: null }));
  assert.ok(!isAdvised({ status: OK, flags: FLAG_WSP, mark: null }));
  assert.ok(!isAdvised({ status: NO_STOP, flags: FLAG_NOTHING_ADDED, mark }));
});

Deno.test("a brake distance between two knots needs both, and rounds up", () => {
  assert.equal(brakeAt([10, 20], [100, 200], 15), 150);
  assert.equal(brakeAt([10, 20], [100, 101], 11), 101, "up");
  assert.equal(brakeAt([10, 20], [100, 101], 10.05), 101, "up from a hair");
  assert.equal(brakeAt([10, 20], [100, 200], 5), 100, "below the first");
  assert.equal(brakeAt([10, 20], [100, 200], 20.5), null, "above the last");
  assert.equal(brakeAt([10, 20], [null, 200], 15), null);
  assert.equal(brakeAt([10, 20], [100, null], 15), null);
  assert.equal(brakeAt([10, 20, 30], [null, 100, 200], 25), 150);
  assert.equal(brakeAt([10, 20, 30], [100, 200, null], 15), 150);
});

/** A table of one case: brake at 40, marks at 100 and 60 on a line that falls towards 0. */
const small = (landmarks, limit = 50) => [
  {
    route: { mark_limit_m: limit },
    directions: [{ key: "up", sign: -1 }],
    states: [{}],
    targets: [{ direction: "up", mark_m: [20], landmarks: landmarks.map((_, at) => at) }],
    landmarks: landmarks.map((at_m) => ({ at_m, words: `at ${at_m}` })),
  },
  {
    knots: [30],
    columns: Object.fromEntries(
      ["status", "brake", "step", "run_in", "ease_at", "aim_short", "flags", "seconds", "cover", "slick", "speeds", "approach"].map((name) => [
        name,
        [[[[{ status: [0], brake: [40], seconds: [5], cover: [10], speeds: [], approach: 30 }[name] ?? 0]]]],
      ]),
    ),
  },
];

Deno.test("a landmark at the brake point itself is the mark; the next one inward never is", () => {
  const found = (landmarks, limit) => lookUp(...small(landmarks, limit), { target: 0, train: 0, state: 0, season: 0, speed: 30 }).mark;
  assert.deepEqual(found([100, 60, 40]), { index: 1, words: "at 60", far: false });
  assert.deepEqual(found([100, 59]), { index: 0, words: "at 100", far: false });
  assert.equal(found([59, 40]), null);
  assert.equal(found([110]).far, false, "as far as the route allows");
  assert.equal(found([111]).far, true);
});

Deno.test("the first and the last day of a season count", () => {
  const spring = { from: "03-01", to: "04-30" }, winter = { from: "10-01", to: "01-15" };
  assert.deepEqual(["02-28", "03-01", "04-30", "05-01"].map((day) => inSeason(spring, `2026-${day}`)), [false, true, true, false]);
  assert.deepEqual(["09-30", "10-01", "01-15", "01-16"].map((day) => inSeason(winter, `2026-${day}`)), [false, true, true, false]);
  assert.deepEqual(["03-02", "03-03", "03-04"].map((day) => inSeason({ from: "03-03", to: "03-03" }, `2026-${day}`)), [false, true, false]);
});
