import assert from "node:assert/strict";
import { plannedState } from "../../static/core/chain.js";
import { cardLines, countWords, textOf } from "../../static/core/card.js";
import { asksAgain, atTrip, metOnDuty, newDuty, nextTrip, withPart, withoutPart } from "../../static/core/duty.js";
import { changedCalls, extraChoices, reachesBack, sameStop } from "../../static/core/pattern.js";
import { allAsked, askedAgain, barred, forAnotherRun, isRunOver, trainKnown, withTrain, withoutWsp, wspNeededFrom } from "../../static/core/prepare.js";
import { nothingNew, seenNow, since } from "../../static/core/since.js";
import { words } from "../../static/words/en.js";

const NOW = Date.parse("2026-11-25T08:00:00Z");
const HOUR = 3600_000;
const states = [["dry", 0.15], ["damp", 0.07], ["frost", 0.05], ["leaf", 0.04], ["very-low", 0.02]].map(([key, plan]) => ({
  key, name: key, plan, pickable: key !== "very-low",
}));
const stations = ["a", "b", "c", "d", "e"];
const places = stations.map((key, i) => ({ key, name: key.toUpperCase(), at_m: 1000 * i }));
const targets = ["down", "up"].flatMap((direction) => stations.map((key, i) => ({
  key: `${key}/${direction}`, kind: "stop", place: key, name: key.toUpperCase(), direction, mark_m: [1000 * i], listed: [],
})));
const trip = (key, calls, more = {}) => ({
  key, name: key, direction: "down", train_type: "disc", formation: "4", starts: { place: "a", depart: "05:00" },
  calls: calls.map((one) => ({ target: `${one}/down`, arrive: "05:10", depart: "05:10", note: null })), ...more,
});
const base = {
  route: { key: "x" }, states, places, targets, listed: [], settings: { rail_state_hours: 3 },
  directions: [{ key: "down", sign: 1 }, { key: "up", sign: -1 }],
  trips: [
    trip("all", ["b", "c", "d", "e"]), trip("fast", ["c", "e"]),
    trip("back", [], { direction: "up", starts: { place: "e" }, calls: [{ target: "a/up" }] }),
    trip("long", ["e"], { formation: "8" }),
    trip("short", ["b", "c"]), trip("onward", ["d", "e"], { starts: { place: "c", depart: "05:20" } }),
  ],
};
const prep = (more = {}) => ({
  trip: "all", formation: "4", isolated: 0, wsp: "works", sand: "full", state: "dry", stateAt: NOW, trainChanged: false, ...more,
});
const row = (state, more = {}) => ({
  target: targets[1], state, season: 0,
  advice: { status: 0, mark: null, flags: 0, speeds: [], seconds: 5, worse: { status: 0, mark: null, flags: 0 }, ...more },
});

Deno.test("advice waits until WSP and isolated brakes are told; sand may stay unknown", () => {
  assert.ok(allAsked(prep({ sand: null })));
  for (const lacking of ["formation", "state", "isolated", "wsp"]) assert.ok(!allAsked(prep({ [lacking]: null })), lacking);
});

Deno.test("another train: nothing that was said of the former one holds, and its rail state counts as changed", () => {
  const again = askedAgain(prep({ brakeTest: "good" }));
  assert.deepEqual([again.formation, again.isolated, again.wsp, again.sand, again.brakeTest], [null, null, null, null, null]);
  assert.equal(again.trainChanged, true);
  assert.equal(askedAgain(prep({ state: null })).trainChanged, false);
});

Deno.test("another formation is another train: nothing asked again stays answered", () => {
  const said = prep({ brakeTest: "good", isolated: 1 });
  const longer = withTrain(said, { formation: "8" });
  assert.deepEqual([longer.formation, longer.isolated, longer.wsp, longer.sand, longer.brakeTest], ["8", null, null, null, null]);
  assert.equal(longer.trainChanged, true, "its rail state was chosen for the former one");
  const first = withTrain(prep({ formation: null, isolated: null, wsp: null, sand: null }), { formation: "8" });
  assert.deepEqual([first.formation, first.trainChanged], ["8", false], "answered for the first time");
  const mended = withTrain(prep({ isolated: null, wsp: null, sand: "full" }), { formation: "8" });
  assert.deepEqual([mended.formation, mended.sand, mended.trainChanged], ["8", "full", false], "put right at once");
  assert.deepEqual([withTrain(said, { isolated: 2 }).wsp, withTrain(said, { isolated: 2 }).trainChanged], ["works", true]);
  assert.equal(withTrain(said, { formation: "4" }).isolated, 1, "the same again changes nothing");
});

Deno.test("the formation is the driver's to say: a trip chosen answers nothing of the train", () => {
  assert.deepEqual(trainKnown(null, true), { formation: null, isolated: null, wsp: null, sand: null, brakeTest: null });
  assert.equal(trainKnown(prep(), true).formation, null);
  assert.deepEqual(trainKnown(prep({ brakeTest: "good" }), false), { formation: "4", isolated: 0, wsp: "works", sand: "full", brakeTest: "good" });
});

Deno.test("what was prepared for yesterday's run is asked again; it only ever takes away", () => {
  const said = prep({ answeredAt: NOW, stateAt: NOW - 9 * HOUR, calls: { "b/down": "passes" }, extra: ["d/down"], signs: ["mist"], brakeTest: "good" });
  assert.ok(!isRunOver(said, NOW + 6 * HOUR), "prepared early, and a long trip");
  assert.ok(isRunOver(said, NOW + 6 * HOUR + 1));
  assert.ok(!isRunOver(said, NOW - 24 * HOUR), "the clock went back");
  assert.ok(isRunOver(prep({ stateAt: NOW - 7 * HOUR }), NOW), "kept by an older app");
  const today = forAnotherRun(said);
  assert.ok(!allAsked(today));
  assert.ok(!isRunOver(today, NOW + 48 * HOUR), "once is enough");
  assert.deepEqual([today.calls, today.extra, today.brakeTest, today.sand, today.formation], [{}, [], null, null, null]);
  assert.deepEqual([today.trip, today.state, today.stateAt, today.signs], ["all", "dry", said.stateAt, ["mist"]], "what makes it worse stays");
});

Deno.test("a WSP fault takes advice from leaf film on, and the worse line that would be leaf film", () => {
  assert.equal(wspNeededFrom(base), 3);
  const short = { ...base, states: states.filter((one) => one.key !== "leaf") };
  assert.equal(wspNeededFrom(short), 2, "without a leaf film state: from the worst to set off in");
  assert.equal(withoutWsp(base, row(1), -1).advice.worse.status, 0);
  assert.equal(withoutWsp(base, row(2), -1).advice.worse.status, 2);
  assert.deepEqual(withoutWsp(base, row(3), -1).bar, { why: "wsp" });
  assert.equal(withoutWsp(base, row(0), 3).advice.status, 2, "a listed place on the way is leaf film");
});

Deno.test("each sign makes the planned rail one worse, leaves and a dull railhead the worst; never better", () => {
  const index = (signs, state = "dry", more = {}) => plannedState(base, prep({ state, signs, ...more }), NOW).index;
  assert.deepEqual([index([]), index(["mist"]), index(["mist", "rain"]), index(["leaves"]), index(["dull"])], [0, 1, 2, 3, 3]);
  assert.equal(index(["mist", "rain", "slip", "others"], "damp"), 3, "never the one nobody may set off in");
  assert.equal(index(["mist"], "dry", { stateAt: NOW - 4 * HOUR }), 2, "old, and a sign on top");
  for (const state of ["dry", "damp", "frost", "leaf"]) {
    for (const sign of ["slip", "rain", "mist", "leaves", "dull", "others"]) {
      assert.ok(index([sign], state) >= index([], state), `${sign} on ${state}`);
    }
  }
});

Deno.test("a stop without advice says W6 and why, within the words of a card", () => {
  for (const bar of [{ why: "wsp" }, { why: "weak" }, { why: "unsure" }, { why: "platform" }, { why: "pattern" },
    { why: "isolated" }, { why: "formation" }, { why: "train" },
    ...["line", "diversion", "radio", "assisting", "other"].map((reason) => ({ why: "off", reason }))]) {
    const lines = cardLines(base, barred(row(1), bar), null, words.card);
    const said = lines.map(textOf);
    assert.equal(said[1], "No advice here. Drive to the conditions.");
    assert.ok(said[2].length > 3, JSON.stringify(bar));
    assert.ok(countWords(lines) <= 25);
  }
});

Deno.test("passes go, extra calls come in order of travel, and only places on the way are offered", () => {
  const fast = base.trips[1];
  assert.deepEqual(extraChoices(base, fast).map((one) => one.key), ["b/down", "d/down"]);
  const calls = (prep) => changedCalls(base, fast, prep).map((call) => call.target);
  assert.deepEqual(calls({}), ["c/down", "e/down"]);
  assert.deepEqual(calls({ extra: ["d/down"] }), ["c/down", "d/down", "e/down"]);
  assert.deepEqual(calls({ calls: { "c/down": "passes" }, extra: ["b/down"] }), ["b/down", "e/down"]);
  assert.deepEqual(calls({ calls: { "c/down": "unsure" } }), ["c/down", "e/down"], "not sure is no pass");
});

Deno.test("no figure is used for a train from further back than any trip of the pack", () => {
  const to = (key) => targets.find((one) => one.key === key);
  assert.ok(reachesBack(base, "down", to("c/down"), 0), "the fast trip comes from there");
  assert.ok(reachesBack(base, "down", to("d/down"), 2000));
  assert.ok(!reachesBack(base, "down", to("d/down"), 0), "nobody runs from a to d without a stand");
  assert.ok(reachesBack(base, "down", to("e/down"), 0), "the long train does");
  assert.ok(!reachesBack(base, "up", to("c/up"), 4000), "no trip calls there");
});

Deno.test("the stop on the card stays when calls before it come or go", () => {
  assert.equal(sameStop(["b", "c", "d"], ["b", "d"], 2), 1);
  assert.equal(sameStop(["b", "c", "d"], ["c", "d"], 0), 0, "the one that is passed now: the next");
  assert.equal(sameStop(["c", "e"], ["b", "c", "e"], 1), 2);
  assert.equal(sameStop(["b", "c"], ["b"], 1), 1, "none is left: the trip is over");
});

Deno.test("a duty leads to its next trip and asks anew where the train may be another", () => {
  let duty = newDuty("x", NOW);
  assert.equal(nextTrip(duty, base), null);
  for (const part of [{ kind: "trip", trip: "short" }, { kind: "trip", trip: "onward" }, { kind: "unit" }, { kind: "trip", trip: "all" },
    { kind: "trip", trip: "back" }]) duty = withPart(duty, part);
  const one = nextTrip(duty, base);
  assert.deepEqual([one.at, one.trip.key, one.between], [1, "onward", []]);
  assert.equal(asksAgain(base, prep({ trip: "short" }), one.trip, one.between), false, "same train, same end, same place");
  assert.equal(asksAgain(base, prep(), base.trips[1]), true, "it begins where the last one did not end: some train brings it there");
  const two = nextTrip({ ...duty, at: 1 }, base);
  assert.deepEqual([two.at, two.between], [3, [{ kind: "unit" }]]);
  assert.equal(asksAgain(base, prep({ trip: "short" }), { ...two.trip, starts: { place: "c" } }, two.between), true, "another unit between");
  assert.equal(asksAgain(base, prep(), base.trips[2]), true, "reversal");
  assert.equal(asksAgain(base, prep(), base.trips[3]), true, "attached");
  assert.equal(asksAgain(base, prep({ formation: "other" }), base.trips[0]), true);
  assert.equal(nextTrip({ ...duty, at: 4 }, base), null, "the last one");
  assert.equal(nextTrip({ ...duty, route: "y" }, base), null);
  assert.equal(atTrip({ ...duty, at: 2 }, "all").at, 3, "the one ahead, not the one behind");
  assert.equal(withoutPart({ ...duty, at: 3 }, 0).at, 2);
  assert.equal(withoutPart({ ...duty, at: 4 }, 4).at, 3);
});

Deno.test("what changed is told by comparison with the last Brief, for this direction only", () => {
  const warning = (id, more = {}) => ({ id, rev: 1, line: "x", direction: "down", state: "leaf", from_m: 1, to_m: 2, ...more });
  const lists = (names) => ({ ...base, listed: names.map((key) => ({ key, name: key, directions: ["down"] })) });
  const before = seenNow(lists(["wood", "mill"]), "p1", [warning("1"), warning("2"), warning("9", { line: "other" })]);
  const now = seenNow(lists(["wood", "dam"]), "p2", [warning("2", { rev: 2 }), warning("3"), warning("4", { direction: "up" })]);
  const found = since(before, now, "down");
  assert.deepEqual(found, {
    first: false, pack: true, added: ["3"], amended: ["2"], gone: [before.warnings["1"]], listed: ["dam"], unlisted: ["mill"],
  });
  assert.ok(since(null, now, "down").first);
  assert.ok(nothingNew(since(now, now, "down")));
  assert.ok(!nothingNew(found));
  assert.deepEqual(since(JSON.parse(JSON.stringify(before)), before, "down").added, [], "what storage gives back is the same");
});

Deno.test("the hand-over tells this duty's reports in the order in which things were met, corrections once", () => {
  const report = (id, minutes, supersedes = null) => ({
    item: { kind: "report", id, observed_at: new Date(NOW + minutes * 60_000).toISOString(), body: { supersedes } },
  });
  const rows = [report("b", 20), report("a", 5), report("old", -5), report("c", 5.5, "a"), { item: null }, { item: { kind: "counts", id: "z", body: {} } }];
  assert.deepEqual(metOnDuty(rows, NOW).map(({ at }) => (at - NOW) / 60_000), [5.5, 20]);
});

Deno.test("both catalogues hold the same names", async () => {
  const { words: de } = await import("../../static/words/de.js");
  const names = (part, path = "") => Object.entries(part).flatMap(([key, value]) =>
    value !== null && typeof value === "object" ? names(value, `${path}.${key}`) : [`${path}.${key}`]);
  assert.deepEqual(names(de.prepare).toSorted(), names(words.prepare).toSorted());
  assert.deepEqual(names(de.card).toSorted(), names(words.card).toSorted());
});
