import assert from "node:assert/strict";
import { cardLines, countWords, listedHere, textOf } from "../../static/core/card.js";
import { words } from "../../static/words/en.js";

const w = words.card;
const train = { cars: 8, length_m: 160, steps: ["step 1", "step 2", "step 3"] };
const landmarks = [];
const base = {
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
    "Worse: before 31 post",
    "Not above: 40 Mill Crossing, 20 ramp",
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
    "Worse: before 9½ post",
    "Not above: 15 ramp, 10 halfway, 5 last board",
    "2 yards short",
  ]);
  assert.equal(countWords(lines), 25);
});

Deno.test("the ladder stands also where no mark is added", () => {
  const speeds = [{ words: "halfway", speed: 10 }, { words: "last board", speed: 5 }];
  const lines = text(row({ kind: "buffers", name: "Kettle Bay" }, { flags: 2, speeds }));
  assert.deepEqual(lines, [
    "KETTLE BAY BUFFERS", "No mark added.", "Worse: before 31 post, step 1", "Not above: 10 halfway, 5 last board",
  ]);
});

Deno.test("dry: nothing added, and where it would begin if it were worse", () => {
  assert.deepEqual(text(row({}, { flags: 2 })), [
    "HARROWMERE 8 cars", "Nothing added.", "Worse: before 31 post, step 1",
  ]);
});

Deno.test("the step stands with the worse mark when it is another one", () => {
  const worse = { status: 0, mark: mark("31 post"), step: 0, flags: 0 };
  assert.equal(text(row({}, { step: 1, worse }))[2], "Worse: before 31 post, step 1");
  assert.equal(text(row({}, { step: 0, worse }))[2], "Worse: before 31 post");
  assert.equal(text(row({}, { step: 1, worse: { ...worse, mark: mark("31¼ post") } }))[2], "Worse: same mark, step 1");
});

Deno.test("the same post is not named twice", () => {
  const worse = { status: 0, mark: mark("31¼ post"), step: 0, flags: 0 };
  assert.equal(text(row({}, { worse }))[2], "Worse: same mark");
  // "Nothing added." names no mark for it to be the same as.
  assert.equal(text(row({}, { flags: 2, worse }))[2], "Worse: before 31¼ post, step 1");
});

Deno.test("a worse state that adds nothing either still names where it begins", () => {
  const worse = { status: 0, mark: mark("31 post"), step: 1, flags: 2 };
  assert.equal(text(row({}, { flags: 2, worse }))[2], "Worse: before 31 post, step 2");
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
    assert.equal(text(row({}, { worse }))[2], "Worse: no advice");
  }
  assert.equal(text(row({}, { worse: null })).some((line) => line.startsWith("Worse")), false);
});

Deno.test("a mark too far out is named as none", () => {
  assert.equal(text(row({}, { mark: mark("Long Hollow bridge", true) }))[1], "No mark: begin before Long Hollow bridge");
});

Deno.test("a place that begins with a number does not run into the speed", () => {
  const speeds = [{ words: "10¾ post", speed: 20 }, { words: "¼ post", speed: 10 }];
  assert.equal(text(row({}, { speeds }))[3], "Not above: 20 by 10¾ post, 10 by ¼ post");
});

Deno.test("never more than 25 words, however long the names", () => {
  const long = "Upper Long Hollow Mill Lane bridge";
  for (const count of [1, 2, 3]) {
    const speeds = Array.from({ length: count }, () => ({ words: long, speed: 40 }));
    const lines = cardLines(base, row({ listed: ["wood"] },
      { mark: mark(long), speeds, worse: { status: 0, mark: mark(`${long} two`), step: 1 } }, 1), train, w);
    assert.ok(countWords(lines) <= 25, lines.map(textOf).join(" / "));
    assert.ok(lines.some((line) => line.kind === "begin") && lines.some((line) => line.kind === "worse"));
  }
});
