import assert from "node:assert/strict";
import { cardLines, countWords, listedHere, textOf } from "../../static/core/card.js";
import { words } from "../../static/words/en.js";

const w = words.card;
const train = { cars: 8, length_m: 160, steps: ["step 1", "step 2", "step 3"] };
const landmarks = [];
const base = {
  route: { speed_unit: "mph", distance_unit: "mi-ch" },
  directions: [{ key: "down", sign: 1 }, { key: "up", sign: -1 }],
  landmarks,
  listed: [{ key: "wood", state: "leaf", from_m: 1000, to_m: 2000 }],
  states: [{ key: "dry", name: "Dry" }, { key: "leaf", name: "Leaf film" }, { key: "very", name: "Very low" }],
};
/** A landmark of this name; each new name stands at 1,000 m. */
const mark = (text, far = false, at_m = 1000) => {
  const held = landmarks.findIndex((one) => one.words === text);
  const index = held < 0 ? landmarks.push({ words: text, at_m }) - 1 : held;
  return { index, words: text, far };
};
const advice = (more = {}) => ({
  status: 0, brake: 1400, mark: mark("31¼ post"), step: 0, flags: 0,
  speeds: [{ words: "Mill Crossing", speed: 40 }, { words: "ramp", speed: 20 }],
  worse: { status: 0, mark: mark("31 post"), step: 0, flags: 0, speeds: [] }, ...more,
});
const row = (target = {}, more = {}, season = 0) => ({
  target: { kind: "stop", name: "Harrowmere", direction: "down", listed: [], words: "Harrowmere", ...target },
  season, state: 0, advice: advice(more),
});
const text = (one) => cardLines(base, one, train, w).map(textOf);

Deno.test("the card of OPERATIONS.md 4, word for word", () => {
  assert.deepEqual(text(row({ listed: ["wood"] }, {}, 1)), [
    "HARROWMERE 8 cars",
    "Begin before 31¼ post, step 1",
    "If worse: before 31 post",
    "Not above 40 mph by Mill Crossing, 20 mph by ramp",
    "Leaf film, listed",
  ]);
});

Deno.test("buffers are a ladder of speeds", () => {
  const speeds = [[15, "ramp"], [10, "halfway"], [5, "last board"]].map(([speed, words]) => ({ words, speed }));
  const ladder = row({ kind: "buffers", name: "Kettle Bay", note: "2 yards short" },
    { mark: mark("tunnel mouth"), speeds, worse: { status: 0, mark: mark("9½ post"), step: 0 } });
  const lines = cardLines(base, ladder, train, w);
  assert.deepEqual(lines.map(textOf), [
    "KETTLE BAY BUFFERS",
    "Begin before tunnel mouth, step 1",
    "If worse: before 9½ post",
    "Not above 15 mph by ramp, 10 mph by halfway, 5 mph by last board",
    "2 yards short",
  ]);
  assert.equal(countWords(lines), 19);
});

Deno.test("the ladder stands also where no mark is added", () => {
  const speeds = [{ words: "halfway", speed: 10 }, { words: "last board", speed: 5 }];
  const lines = text(row({ kind: "buffers", name: "Kettle Bay" }, { flags: 2, speeds }));
  assert.deepEqual(lines, [
    "KETTLE BAY BUFFERS", "No mark added.", "If worse: before 31 post, step 1", "Not above 10 mph by halfway, 5 mph by last board",
  ]);
});

Deno.test("dry: nothing added, and where it would begin if it were worse", () => {
  assert.deepEqual(text(row({}, { flags: 2 })), [
    "HARROWMERE 8 cars", "Nothing added.", "If worse: before 31 post, step 1",
  ]);
});

Deno.test("the step stands with the worse mark when it is another one", () => {
  const worse = { status: 0, mark: mark("31 post"), step: 0, flags: 0 };
  assert.equal(text(row({}, { step: 1, worse }))[2], "If worse: before 31 post, step 1");
  assert.equal(text(row({}, { step: 0, worse }))[2], "If worse: before 31 post");
  assert.equal(text(row({}, { step: 1, worse: { ...worse, mark: mark("31¼ post") } }))[2], "If worse: same place, step 1");
});

Deno.test("the same post is not named twice", () => {
  const worse = { status: 0, mark: mark("31¼ post"), step: 0, flags: 0 };
  assert.equal(text(row({}, { worse }))[2], "If worse: same place");
  // "Nothing added." names no mark for it to be the same as.
  assert.equal(text(row({}, { flags: 2, worse }))[2], "If worse: before 31¼ post, step 1");
});

Deno.test("a worse state that adds nothing either still names where it begins", () => {
  const worse = { status: 0, mark: mark("31 post"), step: 1, flags: 2 };
  assert.equal(text(row({}, { flags: 2, worse }))[2], "If worse: before 31 post, step 2");
});

Deno.test("a listed place is a reason only where the train brakes on it", () => {
  const said = (begin, listed = {}, more = {}) => {
    const here = { ...base, listed: [{ ...base.listed[0], ...listed }] };
    const at = mark(`post at ${begin}`, false, begin);
    const one = { ...row({ listed: ["wood"] }, { mark: at, worse: null }, 1), ...more };
    return listedHere(here, one, train).length > 0;
  };
  assert.ok(said(1500), "on it");
  assert.ok(said(2160), "its last car is still on it");
  assert.ok(!said(2161), "behind the whole train before the brake is touched");
  assert.ok(!said(1500, {}, { season: 0 }), "out of season");
  assert.ok(said(1500, {}, { state: 1 }), "as bad as planned");
  assert.ok(!said(1500, {}, { state: 2 }), "milder than planned");
  const up = { ...row({ listed: ["wood"], direction: "up" }, { mark: mark("up post", false, 500), worse: null }, 1) };
  assert.deepEqual(listedHere(base, up, train), [], "the other way round");
});

Deno.test("no speed is enough: the words, no number, no step", () => {
  const lines = text(row({}, { status: 1, mark: null, step: null, speeds: [] }));
  assert.deepEqual(lines, [
    "HARROWMERE 8 cars", "No speed is enough here. Special working: ask the signaller.",
  ]);
});

Deno.test("not computed, or no landmark at all: W6", () => {
  for (const more of [{ status: 2, mark: null }, { mark: null }]) {
    assert.deepEqual(text(row({}, more)), ["HARROWMERE 8 cars", "No advice here. Drive to the conditions."]);
  }
});

Deno.test("nothing known about the worse state is said, not left out", () => {
  for (const worse of [{ status: 2, mark: null, flags: 0 }, { status: 0, mark: null, step: 0, flags: 0 }]) {
    assert.equal(text(row({}, { worse }))[2], "If worse: no advice");
  }
});

Deno.test("where to begin if it is worse stands on every card with advice", () => {
  // An absent line reads as "no different".
  assert.equal(text(row({}, { worse: null }))[2], "If worse: no advice");
  assert.equal(text(row({}, { worse: { status: 0, mark: null, step: 0, flags: 2 } }))[2], "If worse: nothing added");
  assert.equal(text(row({}, { worse: { status: 1, mark: null, step: null, flags: 0 } }))[2], "If worse: too slippery at any speed");
});

Deno.test("a mark too far out is named as none", () => {
  assert.equal(text(row({}, { mark: mark("Long Hollow bridge", true) }))[1], "No mark: begin before Long Hollow bridge");
});

Deno.test("a speed never stands beside another number: a column of its own, or its unit between", () => {
  const speeds = [{ words: "10¾ post", speed: 20 }, { words: "¼ post", speed: 10 }];
  const line = cardLines(base, row({}, { speeds }), train, w)[3];
  assert.deepEqual([line.lead, line.main, line.speeds], ["mph, not above", "", speeds]);
  assert.equal(textOf(line), "Not above 20 mph by 10¾ post, 10 mph by ¼ post");
  const metric = { ...base, route: { speed_unit: "kmh", distance_unit: "km" } };
  assert.equal(cardLines(metric, row({}, { speeds }), train, w)[3].lead, "km/h, not above");
});

const LONG = "Upper Long Hollow Mill Lane bridge";
const longRow = (target, count, more = {}) => ({
  ...row({ listed: ["wood"], ...target }, {
    mark: mark("Long Hollow crossing"), step: 1, worse: { status: 0, mark: mark("Long Hollow bridge"), step: 0, flags: 0 },
    speeds: Array.from({ length: count }, (_, i) => ({ words: count > 1 ? `Lane ${i} bridge` : LONG, speed: 40 - 10 * i })),
  }, 1), ...more,
});

Deno.test("too many words: what weighs least is shortened first, a reason never goes", () => {
  const of = (one) => cardLines(base, one, train, w);
  const usual = of(longRow({}, 2, { lowered: ["one"] }));
  assert.ok(countWords(usual) <= 25);
  assert.deepEqual(usual.filter((one) => one.kind === "why").map(textOf), ["Leaf film, listed", "Lowered"]);
  assert.equal(usual.find((one) => one.kind === "speeds").speeds.length, 2, "a word is saved before a speed");
  const warned = of(longRow({}, 2, { warned: { certain: true, name: "Leaf film", when: "06:40", rank: 1 }, lowered: ["one"] }));
  assert.deepEqual(warned.filter((one) => one.kind === "why").map(textOf), ["Warned 06:40", "Lowered"], "the state stands below");
  assert.equal(warned.find((one) => one.kind === "speeds").speeds.length, 2);
  const three = of(longRow({}, 3, { lowered: ["one"] }));
  assert.ok(countWords(three) <= 25);
  assert.deepEqual(three.find((one) => one.kind === "speeds").speeds.map((one) => one.speed), [30, 20], "the one furthest out");
  // A ladder at buffers is whole, and the card has the words that it needs.
  const ladder = of(longRow({ kind: "buffers", note: "2 yards short" }, 3));
  assert.equal(ladder.find((one) => one.kind === "speeds").speeds.length, 3);
  assert.deepEqual(ladder.filter((one) => one.kind === "why").map(textOf), ["2 yards short", "Leaf film, listed"]);
  for (const lines of [usual, three, ladder]) {
    assert.deepEqual([...new Set(lines.map((one) => one.kind))], ["name", "begin", "worse", "speeds", "why"]);
    assert.equal(textOf(lines[1]), "Begin before Long Hollow crossing, step 2");
    assert.equal(textOf(lines[2]), "If worse: before Long Hollow bridge, step 1");
  }
});
