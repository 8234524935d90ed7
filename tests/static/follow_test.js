import assert from "node:assert/strict";
import { follow, lapse, matchToLine, startFollowing, stepByHand, stopAhead } from "../../static/core/follow.js";

// A straight line due north from 50° N: one metre is this many degrees of latitude.
const DEGREE = 180 / (Math.PI * 6_371_008.8);
const LINE = {
  sign: 1,
  geometry: [[0, 50, 0], [0, 50 + 10_000 * DEGREE, 10_000], [0, 50 + 20_000 * DEGREE, 20_000]],
  walking: 1.4,
  stops: [
    { from: 3_000, to: 3_200, earlier: 2_000 },
    { from: 6_000, to: 6_200, earlier: 5_000 },
    { from: 12_000, to: 12_200, earlier: 11_000 },
  ],
};
const UP = { ...LINE, sign: -1, stops: [...LINE.stops].reverse().map((s) => ({ ...s, earlier: s.to + 1_000 })) };

const fixAt = (at, speed, t, more = {}) => ({
  lat: 50 + at * DEGREE, lon: 0, accuracy: 10, at: t * 1000, speed, ...more,
});

/** Drive through [metres, speed, seconds] and return the last state. */
function ride(steps, state = startFollowing(), line = LINE) {
  return steps.reduce((now, [at, speed, t]) => follow(now, line, fixAt(at, speed, t), t * 1000), state);
}

Deno.test("steps on only after standing inside the platform and leaving it", () => {
  let state = ride([[100, 20, 0], [2_900, 15, 60]]);
  assert.equal(state.index, 0);
  state = ride([[3_150, 0, 80], [3_150, 0, 82]], state);
  assert.deepEqual([state.index, state.stood, state.motion], [0, true, "standing"]);
  state = ride([[3_180, 3, 120]], state);
  assert.equal(state.index, 0, "still inside");
  state = ride([[3_260, 8, 130]], state);
  assert.deepEqual([state.index, state.stood, state.unsure], [1, false, false]);
});

Deno.test("a stand at a signal just short of the platform is not the stop", () => {
  let state = ride([[2_950, 10, 0], [2_990, 0, 10], [2_990, 0, 12], [2_990, 0, 60]]);
  assert.deepEqual([state.motion, state.stood], ["standing", false]);
  state = ride([[3_050, 5, 80], [3_150, 0, 100], [3_150, 0, 102], [3_300, 10, 140]], state);
  assert.equal(state.index, 1);
});

Deno.test("running through a booked stop never shows the next station as if it were sure", () => {
  const state = ride([[2_900, 25, 0], [3_100, 25, 8], [3_400, 25, 20], [3_600, 25, 28]]);
  assert.deepEqual([state.index, state.unsure], [0, true]);
  assert.equal(stepByHand({ ...state, motion: "standing" }, 1).unsure, false);
});

Deno.test("a train that runs back along the line is on another trip: no card of this one", () => {
  let state = ride([[2_500, 20, 0], [2_300, 20, 10]]);
  assert.equal(state.unsure, false, "200 m may be the receiver");
  state = ride([[2_100, 20, 20]], state);
  assert.equal(state.unsure, true);
  const back = ride([[2_000, 20, 0], [2_350, 20, 14]], startFollowing(), UP);
  assert.equal(back.unsure, true);
  const set = ride([[2_150, 0, 60], [2_150, 0, 62], [2_200, 5, 70], [2_100, 5, 90]]);
  assert.equal(set.unsure, false, "a stand between: counted from there");
});

Deno.test("a tunnel: no fix, then a jump of 3 km", () => {
  let state = ride([[3_100, 0, 0], [3_100, 0, 2], [3_300, 20, 40]]);
  assert.equal(state.index, 1);
  state = lapse(state, 52_000);
  assert.deepEqual([state.at, state.motion], [null, "moving"]);
  state = ride([[6_400 + 200, 25, 170]], state);
  assert.deepEqual([state.index, state.unsure], [1, true]);
});

Deno.test("after standing in a tunnel station unseen, nothing steps on by itself", () => {
  let state = ride([[5_000, 20, 0]], { ...startFollowing(), index: 1 });
  state = lapse(state, 20_000);
  state = ride([[6_700, 20, 200]], state);
  assert.deepEqual([state.index, state.unsure], [1, true]);
});

Deno.test("a fix that is old or vague is no fix", () => {
  const state = ride([[100, 20, 0]]);
  const old = follow(state, LINE, fixAt(3_100, 0, 1), 12_000);
  assert.deepEqual([old.at, old.motion], [null, "moving"]);
  const vague = follow(state, LINE, fixAt(3_100, 0, 5, { accuracy: 201 }), 5_000);
  assert.equal(vague.at, state.at);
});

Deno.test("off the line there is no place", () => {
  const state = follow(startFollowing(), LINE, fixAt(3_100, 20, 0, { lon: 0.01 }), 0);
  assert.deepEqual([state.at, state.index], [null, 0]);
});

Deno.test("freezes 30 s before the earlier mark and stays so to the stand", () => {
  let state = ride([[1_000, 25, 0]]);
  assert.equal(state.frozen, false);
  state = ride([[1_249, 25, 10]], state);
  assert.equal(state.frozen, false);
  state = ride([[1_251, 25, 11]], state);
  assert.equal(state.frozen, true);
  state = lapse(state, 40_000);
  assert.equal(state.frozen, true, "also without position");
  state = ride([[3_050, 3, 100]], state);
  assert.equal(state.frozen, true);
  state = ride([[3_100, 0, 110], [3_100, 0, 112]], state);
  assert.equal(state.frozen, false);
});

Deno.test("by hand nothing changes while the train moves", () => {
  const state = ride([[100, 20, 0]]);
  assert.equal(stepByHand(state, 2), state);
  assert.equal(stepByHand(ride([[100, 0, 10], [100, 0, 12]], state), 2).index, 2);
});

Deno.test("one slow fix is no stand", () => {
  const state = ride([[3_100, 20, 0], [3_110, 0, 2]]);
  assert.deepEqual([state.motion, state.stood], ["moving", false]);
});

Deno.test("speed comes from the way between fixes when the receiver gives none", () => {
  let state = ride([[100, null, 0], [140, null, 2]]);
  assert.equal(state.motion, "moving");
  state = ride([[141, null, 12], [141, null, 14], [141, null, 16], [141, null, 18]], state);
  assert.equal(state.motion, "standing");
});

Deno.test("a train that vanished while moving counts as moving, but not for ever", () => {
  const state = ride([[100, 20, 0]]);
  assert.equal(lapse(state, 10 * 60_000).motion, "moving");
  assert.equal(lapse(state, 21 * 60_000).motion, "unknown");
  assert.equal(lapse(ride([[100, 0, 0], [100, 0, 2]]), 20_000).motion, "unknown");
});

Deno.test("the other direction, end to end", () => {
  let state = ride([[12_100, 0, 0], [12_100, 0, 2]], startFollowing(), UP);
  assert.equal(state.stood, true);
  state = ride([[11_900, 10, 20]], state, UP);
  assert.equal(state.index, 1);
  state = ride([[6_100, 0, 300], [6_100, 0, 302], [5_900, 10, 330]], state, UP);
  assert.equal(state.index, 2);
});

Deno.test("picks the first stop whose platform is not behind", () => {
  assert.deepEqual([0, 3_100, 3_201, 7_000, 13_000].map((at) => stopAhead(LINE, at)), [0, 0, 1, 2, 3]);
});

Deno.test("matches a position to the nearest point of the line", () => {
  const found = matchToLine(LINE.geometry, 50 + 4_321 * DEGREE, 0.001);
  assert.ok(Math.abs(found.at - 4_321) < 0.5);
  assert.ok(Math.abs(found.off - 71.4) < 1); // 0.001° of longitude at 50.04° N, cos(lat) / DEGREE
  assert.equal(matchToLine([], 50, 0), null);
});

Deno.test("what survives a restart is which stop is next, not a position", () => {
  const state = startFollowing({ index: 2, stood: true });
  assert.deepEqual([state.index, state.stood, state.at, state.recent], [2, true, null, []]);
});
