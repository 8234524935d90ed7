import assert from "node:assert/strict";
import { pickable, plannedState } from "../../static/core/chain.js";
import { allowance, countsOf, earlierMark, followLine, tripView } from "../../static/core/trip.js";

const golden = JSON.parse(Deno.readTextFileSync(new URL("../golden/lookup.json", import.meta.url)));
const HOUR = 3600_000;
const NOW = Date.parse("2026-11-25T08:00:00Z");

const states = ["Dry", "Wet", "Leaf film", "Very low"].map((name, i) => ({
  key: name.toLowerCase(), name, pickable: i < 3,
}));
const target = (one, i) => ({
  ...one, name: one.key, kind: i === 1 ? "reduction" : "stop", listed: [], platform: null, words: "40 by the board",
  approach_speed: [30, 30], platform_from_m: 3200, platform_to_m: 3340,
});
const base = {
  ...golden.base,
  states,
  targets: golden.base.targets.map(target),
  listed: [],
  geometry: [],
  places: [{ key: "start", name: "Start", at_m: 0 }],
  trains: [
    { key: "four", type: "disc", formation: "4", cars: 4, isolated_cars: 0 },
    { key: "eight", type: "disc", formation: "4", cars: 4, isolated_cars: 1 },
  ],
  trips: [{
    key: "t1", name: "05:12", direction: "down", train_type: "disc", formation: "4",
    starts: { place: "start", depart: "05:12" },
    calls: [{ target: "one/down", arrive: "05:20", depart: "05:21", note: "" }],
  }],
  settings: { rail_state_hours: 3, walking_speed_mps: 1.4 },
};
const pack = { sha: "a", base, table: golden.table, files: [], fetchedAt: 0 };
const prep = (more = {}) => ({
  route: "golden", pack: "a", trip: "t1", formation: "4", isolated: 0,
  state: "dry", stateAt: NOW - HOUR, trainChanged: false, ...more,
});
const view = (more) => tripView(pack, prep(more), NOW, "2026-11-25");

Deno.test("very low is never offered", () => {
  assert.deepEqual(pickable(base).map((state) => state.key), ["dry", "wet", "leaf film"]);
  assert.equal(plannedState(base, prep({ state: "very low" }), NOW), null);
});

Deno.test("a rail state older than the company's hours counts as one worse, never better", () => {
  assert.deepEqual(plannedState(base, prep(), NOW), { index: 0, hours: 1, raised: false });
  assert.deepEqual(plannedState(base, prep({ stateAt: NOW - 3.1 * HOUR }), NOW), { index: 1, hours: 3, raised: true });
  assert.equal(plannedState(base, prep({ state: "leaf film", stateAt: NOW - 4 * HOUR }), NOW).index, 2);
  assert.equal(plannedState(base, prep({ trainChanged: true }), NOW).index, 1);
  assert.equal(plannedState(base, prep({ stateAt: NOW + HOUR }), NOW).raised, true, "the clock went back");
});

Deno.test("nothing is shown before everything that only the driver knows is chosen", () => {
  assert.equal(view({ state: null }), null);
  assert.equal(view({ isolated: null }), null);
  assert.equal(view({ formation: null }), null);
  assert.equal(view({ trip: "other" }), null);
});

Deno.test("more isolated brakes than the pack knows: no train, no figures", () => {
  const none = view({ isolated: "more" });
  assert.equal(none.train, null);
  assert.ok(none.rows.every((row) => row.advice.status === 2 && row.advice.brake === null));
});

Deno.test("a train without figures says why, on every card and once for the trip", () => {
  const why = (more) => [view(more).bar?.why, ...new Set(view(more).rows.map((row) => row.bar?.why))];
  assert.deepEqual(why({ isolated: "more" }), ["isolated", "isolated"]);
  assert.deepEqual(why({ formation: "other" }), ["formation", "formation"]);
  assert.deepEqual(why({ formation: "12" }), ["train", "train"], "kept from a pack that had it");
  assert.deepEqual(why({ isolated: "more", off: "radio" }), ["off", "off"], "the driver's own reason stands first");
  assert.deepEqual(why({}), [undefined, undefined]);
});

Deno.test("every stop is counted as one kind, and boards are no stops", () => {
  const of = (kind, status, flags = 0) => ({ kind, advice: { status, flags, seconds: 0 } });
  const rows = [of("call", 0), of("call", 0, 2), of("call", 1), of("call", 2), of("call", 2), of("reduction", 0), of("reduction", 2), of("reduction", 1)];
  assert.deepEqual(countsOf(rows), { stops: 5, changed: 1, usual: 1, noSpeed: 1, none: 2, untold: { stops: 3, boards: 2 } });
});

Deno.test("rows come in order of travel with the reductions between", () => {
  assert.deepEqual(view().rows.map((row) => row.target.key), ["one/down"]);
  const later = { ...base, trips: [{ ...base.trips[0], calls: [{ target: "two/down" }] }] };
  assert.ok(later);
  const far = { ...base, targets: base.targets.map((one, i) => (i === 1 ? { ...one, mark_m: [3000, null] } : one)) };
  const rows = tripView({ ...pack, base: far }, prep(), NOW, "2026-11-25").rows;
  assert.deepEqual(rows.map((row) => row.kind), ["reduction", "call"]);
});

Deno.test("the allowance is the sum of what is known, and says how many are not", () => {
  const known = { advice: { status: 0, seconds: 12 } };
  assert.deepEqual(allowance([known, known, { advice: { status: 1, seconds: null } }]), { seconds: 24, unknown: 1 });
});

Deno.test("the earlier of the two marks is the one met first in the direction of travel", () => {
  const row = (direction) => ({
    target: { direction },
    advice: { mark: { index: 5 }, worse: { mark: { index: 3 } } },
  });
  assert.equal(earlierMark(base, row("down")), base.landmarks[3].at_m);
  assert.equal(earlierMark(base, row("up")), base.landmarks[5].at_m);
  assert.equal(earlierMark(base, { target: { direction: "up" }, advice: { mark: null, worse: null } }), null);
});

Deno.test("the follower is told platforms and marks, nothing more", () => {
  const line = followLine(view());
  assert.deepEqual(Object.keys(line).toSorted(), ["geometry", "sign", "stops", "top", "walking"]);
  assert.deepEqual([line.stops[0].from, line.stops[0].to], [3200, 3340]);
});

/** Two calls one after the other; no trip of the pack passes the first of them. */
const both = (() => {
  const places = [...base.places, { key: "near", name: "Near", at_m: 3300 }, { key: "far", name: "Far", at_m: 6600 }];
  const targets = base.targets.map((one, i) => ({ ...one, kind: "stop", place: i === 0 ? "near" : "far" }));
  const calls = targets.slice(0, 2).map(({ key }) => ({ target: key, arrive: "05:20", depart: "05:21", note: "" }));
  return { ...base, places, targets, trips: [{ ...base.trips[0], calls }] };
})();
const barsOf = (more) => tripView({ ...pack, base: both }, prep(more), NOW, "2026-11-25").calls.map((row) => row.bar?.why ?? null);

Deno.test("after a stop that is not sure the next one has no figure either: the train may come past it, and faster", () => {
  const [first, second] = both.targets.map(({ key }) => key);
  assert.deepEqual(barsOf({}), [null, null]);
  assert.deepEqual(barsOf({ calls: { [first]: "unsure" } }), ["unsure", "pattern"]);
  assert.deepEqual(barsOf({ calls: { [first]: "passes" } }), ["pattern"]);
  assert.deepEqual(barsOf({ calls: { [first]: "platform" } }), ["platform", null], "it stands there, wherever in the station");
  assert.deepEqual(barsOf({ calls: { [second]: "unsure" } }), [null, "unsure"]);
});

Deno.test("a weak running brake test takes every figure, whatever the rail", () => {
  assert.deepEqual(barsOf({ brakeTest: "weak" }), ["weak", "weak"]);
  assert.deepEqual(barsOf({ brakeTest: "weak", off: "radio" }), ["off", "off"], "the driver's own reason stands first");
  assert.deepEqual(barsOf({ brakeTest: "good" }), [null, null]);
  const rows = tripView({ ...pack, base: both }, prep({ brakeTest: "weak" }), NOW, "2026-11-25").rows;
  assert.ok(rows.every(({ advice }) => advice.brake === null && advice.worse === null && advice.speeds.length === 0));
});
