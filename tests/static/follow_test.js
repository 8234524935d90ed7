import assert from "node:assert/strict";
import { follow, lapse, startFollowing, stepByHand, stopMade, wake } from "../../static/core/follow.js";
import { proposedByPlace, proposedByTime } from "../../static/core/face.js";
import { placesOnLine } from "../../static/core/line.js";
import { isBeyond, stopAhead } from "../../static/core/platforms.js";

// A straight line due north from 50° N: one metre is this many degrees of latitude.
const DEGREE = 180 / (Math.PI * 6_371_008.8);
const LINE = {
  sign: 1,
  geometry: [[0, 50, 0], [0, 50 + 10_000 * DEGREE, 10_000], [0, 50 + 20_000 * DEGREE, 20_000]],
  walking: 1.4,
  top: 30,
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

/** Drive from place to place, a fix a second: [metres, seconds to get there, more of the fixes]. */
function ride(way, state = startFollowing(), line = LINE) {
  for (const [metres, seconds, more = {}] of way) {
    const from = where.at;
    for (let i = 1; i <= seconds; i++) {
      where.at = from + ((metres - from) * i) / seconds;
      where.t += 1;
      const fix = fixAt(where.at, Math.abs(metres - from) / seconds, where.t, more);
      const before = state;
      state = follow(state, line, fix, where.t * 1000);
      where.made.push(...[stopMade(before, state)].filter((one) => one !== null));
    }
  }
  return state;
}
const where = { at: 0, t: 0, made: [] };
/** Begin a ride at a place. */
function from(metres, state = startFollowing(), line = LINE) {
  Object.assign(where, { at: metres, t: where.t + 1000, made: [] });
  return ride([[metres, 1, { speed: 20 }]], state, line);
}
const blind = (state, seconds, line = LINE) => {
  for (let i = 0; i < seconds; i++) {
    where.t += 1;
    state = lapse(state, where.t * 1000, line);
  }
  return state;
};
const STAND = 8;

Deno.test("steps on only after standing inside the platform and leaving it", () => {
  let state = ride([[2_900, 140]], from(100));
  assert.deepEqual([state.index, state.face], [0, { index: 0, word: "sure" }]);
  state = ride([[3_150, 30], [3_150, STAND]], state);
  assert.deepEqual([state.index, state.stood, state.motion], [0, true, "standing"]);
  assert.deepEqual(state.face, { index: 1, word: "sure" }, "the next card can be read at the stand");
  state = ride([[3_180, 8]], state);
  assert.equal(state.index, 0, "still inside");
  assert.deepEqual(where.made, []);
  state = ride([[3_300, 12]], state);
  assert.deepEqual([state.index, state.stood, state.unsure], [1, false, false]);
  assert.deepEqual(where.made, [0], "told once, when it has left");
});

Deno.test("creeping to the mark is not standing", () => {
  let state = ride([[3_100, 150], [3_108, 8]], from(100));
  assert.deepEqual([state.motion, state.stood, state.face.index], ["standing", false, 0]);
  assert.equal(state.frozen, true, "and the card stays frozen until the stand");
  state = ride([[3_108, STAND]], state);
  assert.deepEqual([state.stood, state.frozen], [true, false]);
});

Deno.test("a stand at a signal just short of the platform is not the stop", () => {
  let state = ride([[2_990, 145], [2_990, 60]], from(100));
  assert.deepEqual([state.motion, state.stood, state.face.index], ["standing", false, 0]);
  state = ride([[3_050, 12]], state);
  assert.deepEqual([state.index, state.face.index], [0, 0]);
  state = ride([[3_150, 14], [3_150, STAND], [3_300, 30]], state);
  assert.deepEqual([state.index, where.made], [1, [0]]);
});

Deno.test("a stand that was perhaps in the platform is never counted, and nothing is sure after it", () => {
  const vague = { accuracy: 45 };
  let state = ride([[3_010, 150, vague], [3_010, 20, vague]], from(100));
  assert.deepEqual([state.stood, state.perhaps], [false, true]);
  state = ride([[3_120, 15, vague]], state);
  assert.equal(state.face.word, "estimated");
  state = ride([[3_600, 40, vague]], state);
  assert.deepEqual([state.doubt, state.face, where.made], [null, { index: 1, word: "estimated" }, []], "the one after it is ahead either way");
  state = ride([[6_100, 100], [6_100, STAND]], state);
  assert.deepEqual(state.face, { index: 2, word: "estimated" });
  state = ride([[6_100, 15]], state);
  assert.deepEqual(state.face, { index: 2, word: "sure" }, "it calls where the trip does");
});

Deno.test("running through a booked stop never shows the next station as if it were sure", () => {
  let state = ride([[3_240, 125]], from(100));
  assert.equal(state.doubt, null, "it may be an overrun");
  state = ride([[3_400, 6]], state);
  assert.deepEqual([state.doubt, state.face], [null, { index: null, word: "off" }], "but the stop behind is not next");
  state = ride([[3_600, 8]], state);
  assert.deepEqual([state.index, state.unsure, state.doubt, state.face], [0, true, "missed", { index: null, word: "off" }]);
  state = ride([[4_500, 60], [6_150, 80], [6_150, STAND]], state);
  assert.deepEqual([state.face.index, where.made], [null, []], "nothing by itself, also at the next stand");
  assert.equal(proposedByPlace(state, LINE), 2, "but a question");
  const told = stepByHand(state, 2);
  assert.deepEqual([told.unsure, told.face.index], [false, 2]);
});

Deno.test("doubt survives a restart", () => {
  const state = startFollowing({ index: 1, stood: false, doubt: "missed" });
  assert.deepEqual([state.unsure, state.face.index], [true, null]);
});

Deno.test("a train that runs back along the line is on another trip: no card of this one", () => {
  let state = ride([[2_500, 30]], from(2_000));
  state = ride([[2_420, 8]], state);
  assert.equal(state.doubt, null, "80 m may be the receiver, or setting back");
  state = ride([[1_900, 26]], state);
  assert.deepEqual([state.doubt, state.face.index], ["turned", null]);
  const back = ride([[2_450, 35]], from(2_000, startFollowing(), UP), UP);
  assert.equal(back.doubt, "turned");
  const set = ride([[2_100, 60], [2_100, STAND], [2_020, 20]], from(1_500));
  assert.equal(set.doubt, null, "a stand between: counted from there");
});

Deno.test("after a stand, one that perhaps runs back is never sure for long", () => {
  const vague = { accuracy: 60 };
  let state = ride([[2_500, 60, vague], [2_500, 20, vague]], from(1_000));
  assert.deepEqual([state.motion, state.face], ["standing", { index: 0, word: "sure" }]);
  state = ride([[2_360, 14, vague]], state);
  assert.deepEqual([state.doubt, state.face.word], [null, "estimated"], "140 m back: not told apart, not sure");
  state = ride([[3_500, 20, vague]], from(3_500, startFollowing({ index: 1 })));
  assert.notEqual(state.backward, null);
  state = ride([[3_800, 30, vague]], state);
  assert.deepEqual([state.backward, state.face.word], [null, "sure"], "on its way: refuted after some seconds");
});

Deno.test("r36 a tunnel: no fix, then 3 km further on", () => {
  let state = ride([[3_150, 200], [3_150, STAND], [3_500, 30]], from(100));
  assert.equal(state.index, 1);
  state = blind(state, 12);
  assert.deepEqual([state.at, state.motion, state.face], [null, "moving", { index: 1, word: "estimated" }]);
  state = blind(state, 180);
  assert.deepEqual(state.face, { index: null, word: "unknown" }, "it may have called by now");
  where.at = 6_600;
  state = ride([[6_700, 4]], state);
  assert.deepEqual([state.index, state.doubt, state.face], [2, null, { index: 2, word: "estimated" }], "a stop perhaps made");
});

Deno.test("a tunnel that ends before the platform gives the card back", () => {
  let state = ride([[6_150, 300], [6_150, STAND], [6_900, 50]], from(3_500, startFollowing({ index: 1, stood: false })));
  state = blind(state, 80);
  assert.deepEqual([state.index, state.face], [2, { index: 2, word: "estimated" }]);
  where.at = 8_100;
  state = ride([[8_130, 2]], state);
  assert.deepEqual(state.face, { index: 2, word: "sure" });
});

Deno.test("frozen and blind: first only the word says less, then there is no card", () => {
  let state = ride([[1_500, 56]], from(100));
  assert.deepEqual([state.frozen, state.face], [true, { index: 0, word: "sure" }]);
  state = blind(state, 50);
  assert.deepEqual(state.face, { index: 0, word: "sure" }, "frozen: nothing changes");
  state = blind(state, 60);
  assert.deepEqual(state.face, { index: 0, word: "estimated" });
  state = blind(state, 60);
  assert.deepEqual(state.face, { index: null, word: "unknown" });
  state = ride([[3_150, 1, { speed: 5 }]], state);
  assert.equal(state.face.index, null, "no card comes back while it brakes");
  state = ride([[3_150, STAND]], state);
  assert.deepEqual(state.face, { index: 1, word: "sure" }, "the stand clears it");
});

Deno.test("r36 a fix that is old or vague is no fix", () => {
  const state = from(100);
  const t = where.t;
  const old = follow(state, LINE, fixAt(3_100, 0, t), (t + 11) * 1000);
  assert.deepEqual([old.at, old.motion], [null, "moving"]);
  const vague = follow(state, LINE, fixAt(3_100, 0, t + 1, { accuracy: 201 }), (t + 1) * 1000);
  assert.equal(vague.at, state.at);
});

Deno.test("off the line there is no place, and before the trip began no blame", () => {
  const state = ride([[3_300, 20, { lon: 0.01 }]], from(3_100, startFollowing()));
  assert.deepEqual([state.index, state.doubt], [0, null]);
  const away = follow(startFollowing(), LINE, fixAt(3_100, 20, 0, { lon: 0.01 }), 0);
  assert.deepEqual([away.at, away.index, away.face.index], [null, 0, null]);
});

Deno.test("another line: no card, and the reason stays until the driver is asked", () => {
  let state = ride([[1_000, 40]], from(100));
  state = ride([[1_100, 6, { lon: 0.003 }]], state);
  assert.equal(state.doubt, null, "6 s may be the receiver");
  state = ride([[1_300, 10, { lon: 0.004 }]], state);
  assert.equal(state.doubt, null, "nor 16 s");
  state = ride([[1_500, 10, { lon: 0.005 }]], state);
  assert.deepEqual([state.doubt, state.face], ["off line", { index: null, word: "off" }]);
  state = ride([[1_900, 30], [1_900, STAND]], state);
  assert.equal(state.face.index, null, "back on it, nothing comes back by itself");
});

Deno.test("one jump of the receiver moves nothing", () => {
  let state = ride([[2_700, 130]], from(100));
  const at = state.at;
  state = follow(state, LINE, fixAt(3_100, 20, where.t + 1), (where.t + 1) * 1000);
  assert.equal(state.at, at);
  where.t += 1;
  state = ride([[2_740, 2]], state);
  assert.ok(Math.abs(state.at - 2_740) < 60);
});

Deno.test("what contradicts for 20 s wins, and is then unknown ground", () => {
  let state = ride([[500, 20]], from(100));
  where.at = 3_900;
  state = ride([[4_300, 20]], state);
  assert.deepEqual([state.doubt, state.face.word], [null, "estimated"], "a jump is shorter");
  state = ride([[4_400, 5]], state);
  assert.deepEqual([state.doubt, state.face.index], ["missed", null]);
});

Deno.test("opened in mid-line nothing is shown before direction and place are sure", () => {
  let state = from(4_000);
  assert.deepEqual([state.placed, state.face], [false, { index: null, word: "off" }]);
  state = ride([[4_030, 2]], state);
  assert.equal(state.face.index, null);
  state = ride([[4_200, 10]], state);
  assert.deepEqual([state.index, state.face], [1, { index: 1, word: "sure" }]);
  const late = ride([[5_700, 30]], from(5_200));
  assert.deepEqual([late.placed, late.frozen, late.face.index], [true, true, null], "too late: none until the stand");
  const passing = ride([[6_120, 8]], from(6_000));
  assert.equal(passing.face.index, null, "in a platform nobody knows whether it calls");
  const standing = ride([[6_150, STAND]], from(6_150));
  assert.deepEqual([standing.face.index, proposedByPlace(standing, LINE)], [null, 2], "a stand is asked about");
  assert.equal(ride([[4_000, 30]], from(4_600)).face.index, null, "the wrong way");
});

Deno.test("freezes 30 s before the earlier mark or sooner, and stays so to the stand", () => {
  let state = ride([[1_025, 37]], from(100));
  assert.equal(state.frozen, false);
  state = ride([[1_250, 9]], state);
  assert.equal(state.frozen, true);
  state = blind(state, 20);
  assert.equal(state.frozen, true, "also without position");
  where.at = 1_700;
  state = ride([[3_150, 130]], state);
  assert.equal(state.frozen, true);
  state = ride([[3_150, STAND]], state);
  assert.equal(state.frozen, false);
});

Deno.test("an uncertain position freezes earlier, never later", () => {
  const near = ride([[1_025, 37]], from(100));
  assert.equal(near.frozen, false);
  const vague = ride([[1_025, 37, { accuracy: 80 }]], from(100));
  assert.equal(vague.frozen, true);
  let unseen = ride([[800, 28]], from(100));
  unseen = blind(unseen, 12);
  assert.equal(unseen.frozen, true, "at 25 m/s it would be at 1,100 m, it may be further");
});

Deno.test("by hand nothing changes while the train moves", () => {
  const state = from(100);
  assert.equal(stepByHand(state, 2), state);
  assert.equal(stepByHand(ride([[100, STAND]], state), 2).index, 2);
});

Deno.test("with no position at all the card is the driver's choice, marked unknown", () => {
  let state = lapse(startFollowing(), 5_000, LINE);
  assert.deepEqual(state.face, { index: 0, word: "unknown" });
  state = stepByHand(state, 1);
  assert.deepEqual(lapse(state, 900_000, LINE).face, { index: 1, word: "unknown" });
});

Deno.test("by the timetable a stop is proposed, past midnight too, and none outside the trip", () => {
  const calls = [
    { arrive: "23:50", depart: "23:51" },
    { arrive: "24:10", depart: "24:11" },
    { arrive: "24:30", depart: null },
  ];
  assert.deepEqual([1_420, 1_432, 5, 15, 31].map((now) => proposedByTime(calls, now)), [0, 1, 1, 2, 0]);
  assert.equal(proposedByTime([{ arrive: "08:00", depart: null }], 500), null);
  assert.equal(proposedByTime([{ arrive: null, depart: null }], 500), null);
});

Deno.test("one slow fix is no stand, one fast fix at a stand no start", () => {
  let state = ride([[3_110, 1, { speed: 0 }]], ride([[3_100, 150]], from(100)));
  assert.deepEqual([state.motion, state.stood], ["moving", false]);
  state = ride([[3_112, STAND, { speed: 0 }]], state);
  state = ride([[3_120, 1, { speed: 6 }]], state);
  assert.equal(state.motion, "standing");
});

Deno.test("a stationary train that drifts does not leave", () => {
  let state = ride([[3_180, STAND, { speed: 0 }]], ride([[3_180, 170]], from(100)));
  assert.equal(state.stood, true);
  // 50 m past the platform's end and back, as receivers do under a roof.
  state = ride([[3_250, 60, { speed: 0.4, accuracy: 30 }], [3_180, 60, { speed: 0.4, accuracy: 30 }]], state);
  assert.deepEqual([state.index, state.stood, state.motion, where.made], [0, true, "standing", []]);
  const silent = ride([[3_250, 60, { speed: null, accuracy: 30 }]], state);
  assert.deepEqual([silent.index, silent.motion], [0, "standing"], "nor without a speed of the receiver's own");
});

Deno.test("speed comes from the way between fixes when the receiver gives none", () => {
  let state = follow(startFollowing(), LINE, fixAt(100, null, 1), 1_000);
  state = follow(state, LINE, fixAt(140, null, 3), 3_000);
  assert.equal(state.motion, "moving");
  for (const t of [13, 15, 17, 19]) state = follow(state, LINE, fixAt(141, null, t), t * 1_000);
  assert.equal(state.motion, "standing");
});

Deno.test("a train that vanished while moving counts as moving, but not for ever", () => {
  const state = from(100);
  const t = where.t * 1000;
  assert.equal(lapse(state, t + 10 * 60_000).motion, "moving");
  assert.equal(lapse(state, t + 21 * 60_000).motion, "unknown");
  assert.equal(lapse(ride([[100, STAND]], state), where.t * 1000 + 20_000).motion, "unknown");
});

Deno.test("a loop: a place the line passes twice is told by what came before", () => {
  // 2 km north, a square of 1 km sides back to the same point, and on to the north.
  const east = (m) => m * DEGREE / Math.cos((50 * Math.PI) / 180);
  const loop = {
    ...LINE,
    geometry: [[0, 50, 0], [0, 50 + 2_000 * DEGREE, 2_000], [east(1_000), 50 + 2_000 * DEGREE, 3_000],
      [east(1_000), 50 + 1_000 * DEGREE, 4_000], [east(-1_000), 50 + 1_000 * DEGREE, 6_000], [east(-1_000), 50 + 4_000 * DEGREE, 9_000]],
    stops: [{ from: 3_400, to: 3_600, earlier: 3_000 }, { from: 6_900, to: 7_100, earlier: 6_500 }],
  };
  const crossing = { lat: 50 + 1_000 * DEGREE, lon: 0 };
  assert.equal(placesOnLine(loop.geometry, crossing.lat, crossing.lon, 60).length, 2);
  const at = (m) => {
    const i = loop.geometry.findIndex(([, , one]) => one >= m);
    const [a, b] = [loop.geometry[Math.max(0, i - 1)], loop.geometry[Math.max(1, i)]];
    const share = (m - a[2]) / (b[2] - a[2]);
    return { lon: a[0] + share * (b[0] - a[0]), lat: a[1] + share * (b[1] - a[1]) };
  };
  const drive = (state, a, b, t0) => {
    for (let m = a; m <= b; m += 20) {
      const t = t0 + (m - a) / 20;
      state = follow(state, loop, { ...at(m), accuracy: 10, speed: 20, at: t * 1000 }, t * 1000);
    }
    return state;
  };
  const first = drive(startFollowing(), 500, 1_000, 0);
  assert.ok(Math.abs(first.at - 1_000) < 40, "first time round");
  const second = drive(startFollowing({ index: 1 }), 4_200, 5_000, 0);
  assert.ok(Math.abs(second.at - 5_000) < 40, "second time round");
  const cold = follow(startFollowing(), loop, { ...crossing, accuracy: 10, speed: 20, at: 0 }, 0);
  assert.deepEqual([cold.at, cold.places.length, cold.face.index], [null, 2, null], "woken at the crossing: either");
  assert.equal(drive(startFollowing(), 5_000, 5_600, 0).index, 1, "and told apart by the way it goes");
});

Deno.test("the other direction, end to end", () => {
  let state = ride([[12_100, STAND]], from(12_100, startFollowing(), UP), UP);
  assert.equal(state.stood, true);
  state = ride([[11_900, 30]], state, UP);
  assert.equal(state.index, 1);
  state = ride([[6_100, 300], [6_100, STAND], [5_900, 30]], state, UP);
  assert.deepEqual([state.index, where.made], [2, [0, 1]]);
  state = ride([[3_100, 200], [3_100, STAND]], state, UP);
  assert.deepEqual([where.made, state.face.index], [[0, 1, 2], 3], "the last stop counts when it stands");
});

Deno.test("picks the first stop whose platform is not behind", () => {
  assert.deepEqual([0, 3_100, 3_201, 7_000, 13_000].map((at) => stopAhead(LINE, at)), [0, 0, 1, 2, 3]);
});

Deno.test("matches a position to the nearest point of the line", () => {
  const [found] = placesOnLine(LINE.geometry, 50 + 4_321 * DEGREE, 0.001, 100);
  assert.ok(Math.abs(found.at - 4_321) < 0.5);
  assert.ok(Math.abs(found.off - 71.4) < 1); // 0.001° of longitude at 50.04° N, cos(lat) / DEGREE
  assert.deepEqual(placesOnLine([], 50, 0, 100), []);
  assert.deepEqual(placesOnLine(LINE.geometry, 50 + 4_321 * DEGREE, 0.001, 70), []);
});

Deno.test("what survives a restart is which stop is next, not a position", () => {
  const state = startFollowing({ index: 2, stood: true });
  assert.deepEqual([state.index, state.stood, state.at, state.recent], [2, true, null, []]);
});

Deno.test("a jump back that just fits what is known never puts the freeze off", () => {
  // A start with 0.6 m/s². Fixes are right but for one jump; the freeze is due at its last second.
  const driven = (t) => 3_150 + 0.3 * t * t;
  const due = (t) => driven(t) + 30 * 0.6 * t;
  const east = (m) => m * DEGREE / Math.cos((50 * Math.PI) / 180);
  const isLate = ({ back, beside, accuracy, first, last }) => {
    const line = { ...LINE, stops: [LINE.stops[0], { ...LINE.stops[1], earlier: due(last) }] };
    let state = ride([[3_150, 12, { accuracy }]], from(3_150, startFollowing({ index: 0 }), line), line);
    assert.deepEqual(state.face, { index: 1, word: "sure" });
    for (let t = 1; t <= last + 4; t++) {
      where.t += 1;
      const more = { accuracy, lon: t >= first && t <= last ? east(beside) : 0 };
      const at = driven(t) - (t >= first && t <= last ? back : 0);
      state = follow(state, line, fixAt(at, 0.6 * t, where.t, more), where.t * 1000);
      if (!state.frozen && due(t) >= due(last)) return true;
    }
    return false;
  };
  const each = (name, values, more) => values.flatMap((value) => more.map((one) => ({ ...one, [name]: value })));
  const lasting = [8, 11, 14, 17, 20].flatMap((first) => [4, 7].map((more) => ({ first, last: first + more })));
  const jumps = each("back", [110, 140, 190, 240], each("beside", [0, 30, 55], each("accuracy", [20, 32, 45, 55], lasting)));
  assert.deepEqual(jumps.filter(isLate), []);
});

Deno.test("a place that contradicts for 5 s and then fits after all leaves doubt behind", () => {
  let state = ride([[3_150, 30]], from(3_150, startFollowing({ index: 0 })));
  state = ride([[3_168, 6], [3_200, 6]], state);
  assert.deepEqual(state.face, { index: 1, word: "sure" });
  // 150 m behind for a minute, with the same speed: after some seconds both may be true.
  where.at -= 150;
  state = ride([[3_150, 18]], state);
  assert.equal(state.strange, null, "the bounds hold both places");
  assert.deepEqual(state.face, { index: 1, word: "estimated" });
  state = ride([[7_900, 40]], from(6_900, startFollowing({ index: 2 })));
  where.at = 7_625;
  state = ride([[7_800, 7]], state);
  assert.equal(state.face.word, "estimated", "300 m back for 7 s");
  where.at = 8_075;
  state = ride([[8_100, 1]], state);
  assert.deepEqual(state.face, { index: 2, word: "sure" }, "and then on as before: it was a jump");
});

Deno.test("a tablet that slept, nobody knows how long, is sure of nothing until it has seen enough", () => {
  const before = ride([[3_150, 150], [3_150, STAND], [3_500, 30]], from(100));
  assert.deepEqual(before.face, { index: 1, word: "sure" });
  const woken = () => wake(before, LINE, where.t * 1000);
  assert.deepEqual([woken().face, woken().at, woken().motion], [{ index: null, word: "unknown" }, null, "moving"]);
  assert.deepEqual(ride([[3_900, 20]], from(3_600, woken())).face, { index: 1, word: "sure" }, "on its way to the same stop");
  assert.notEqual(ride([[3_560, 2]], from(3_520, woken())).face.word, "sure", "not before it is seen which way");
  const past = ride([[6_600, 20]], from(6_150, woken()));
  assert.deepEqual([past.face, where.made], [{ index: 2, word: "estimated" }, []], "past a stop: perhaps made");
  const stop = ride([[6_150, STAND]], from(6_150, woken()));
  assert.deepEqual(stop.face, { index: 2, word: "sure" }, "standing in the platform that is next");
  assert.notEqual(ride([[12_150, STAND]], from(12_150, woken())).face.word, "sure", "in another one");
});

Deno.test("opened anew while it runs back, no card is sure before it is seen which way", () => {
  const words = [];
  let state = from(4_500, startFollowing({ index: 1 }));
  for (let at = 4_480; at >= 4_200; at -= 20) {
    state = ride([[at, 1]], state);
    words.push(state.face.word);
  }
  assert.equal(words.includes("sure"), false, words.join());
  assert.equal(state.doubt, "turned");
});

Deno.test("a position that is handed out again, or after a newer one, is none", () => {
  const state = ride([[2_000, 80]], from(100));
  const again = follow(state, LINE, fixAt(2_000, 0, where.t), where.t * 1000);
  const older = follow(state, LINE, fixAt(1_900, 0, where.t - 4), where.t * 1000);
  assert.deepEqual([again.places, older.places, older.motion], [state.places, state.places, "moving"]);
});

Deno.test("a receiver whose speed is always 0 makes no stand of a train that runs in", () => {
  let state = ride([[2_900, 140]], from(100));
  state = ride([[3_150, 25, { speed: 0 }]], state);
  assert.deepEqual([state.stood, state.face.index], [false, 0]);
  assert.deepEqual(ride([[3_150, STAND + 5, { speed: 0 }]], state).stood, true);
});

Deno.test("one fix in 18 s, without a speed: a stop that was perhaps made is never passed over as sure", () => {
  let state = startFollowing({ index: 0 });
  where.t += 1000;
  const seen = (at) => {
    where.t += 18;
    state = follow(state, LINE, fixAt(at, null, where.t), where.t * 1000);
    return state.face;
  };
  for (const at of [1_500, 2_000, 2_500]) seen(at);
  for (const at of [3_150, 3_150, 3_150, 3_185, 3_290]) assert.notEqual(seen(at).word, "sure", `at ${at}`);
});

Deno.test("an overrun that is set back into the platform is the stop", () => {
  let state = ride([[3_100, 150], [3_235, 15], [3_235, 60]], from(100));
  assert.deepEqual([state.doubt, state.stood, state.past, state.face], [null, false, true, { index: 1, word: "sure" }]);
  state = ride([[3_170, 40], [3_170, STAND]], state);
  assert.deepEqual([state.stood, state.doubt], [true, null]);
  state = ride([[3_400, 20]], state);
  assert.deepEqual([state.index, state.face, where.made], [1, { index: 1, word: "sure" }, [0]]);
});

Deno.test("beyond a platform the stop behind is never sure, and the next one is read at the stand", () => {
  for (const beyond of [45, 60, 100, 150, 240]) {
    const faces = [];
    let state = ride([[3_150, 140], [3_200, 8]], from(100));
    for (let at = 3_202; at < 3_200 + beyond; at += 2) {
      state = ride([[at, 1]], state);
      if (at > 3_240) faces.push(state.face);
    }
    state = ride([[3_200 + beyond, 1]], state);
    for (let i = 0; i < 20; i++) faces.push((state = ride([[where.at, 1]], state)).face);
    assert.deepEqual(faces.filter((face) => face.index === 0 && face.word === "sure"), [], `${beyond} m`);
    assert.deepEqual([state.face, state.doubt, isBeyond(state, LINE)], [{ index: 1, word: "sure" }, null, true], `${beyond} m`);
    state = ride([[3_800, 40]], state);
    assert.deepEqual([state.index, state.face, where.made], [1, { index: 1, word: "sure" }, []], "gone on: no stop was made");
  }
});

Deno.test("an overrun of 200 m is set back: no other trip, and the stop is made", () => {
  let state = ride([[3_150, 140], [3_400, 25], [3_400, 60]], from(100));
  assert.deepEqual(state.face, { index: 1, word: "sure" });
  const words = new Set();
  for (let at = 3_398; at >= 3_150; at -= 2) {
    state = ride([[at, 1]], state);
    words.add(`${state.face.index} ${state.doubt}`);
  }
  assert.deepEqual([...words], ["1 null"]);
  state = ride([[3_150, 20], [3_400, 25]], state);
  assert.deepEqual([state.index, state.face, where.made], [1, { index: 1, word: "sure" }, [0]]);
});

Deno.test("beyond a platform the driver may say that he sets back", () => {
  let state = ride([[3_150, 140], [3_300, 15], [3_300, 20]], from(100));
  state = ride([[3_300, 10]], stepByHand(state, 0));
  assert.deepEqual(state.face, { index: 0, word: "estimated" });
  state = ride([[3_150, 60], [3_150, STAND]], state);
  assert.deepEqual([state.stood, state.face], [true, { index: 1, word: "sure" }]);
});

Deno.test("a jump of 400 m for 15 s, whichever way, costs no card and blames nobody", () => {
  const east = (m) => m * DEGREE / Math.cos((50 * Math.PI) / 180);
  for (const [along, aside] of [[400, 0], [-400, 0], [0, 400], [283, -283]]) {
    for (const begin of [600, 2_400, 3_050]) {
      let state = ride([[begin, 40]], from(begin - 800));
      const before = state.face.index;
      for (let i = 1; i <= 15; i++) {
        where.at += 20;
        where.t += 1;
        state = follow(state, LINE, fixAt(where.at + along, 20, where.t, { lon: east(aside) }), where.t * 1000);
        assert.equal(state.doubt, null, `${along} ${aside} from ${begin}, ${i} s`);
        if (i > 5 && aside === 0) assert.notEqual(state.face.word, "sure");
      }
      state = ride([[where.at + 20, 1]], state);
      if (begin < 3_000) assert.equal(state.face.index, before, `${along} ${aside} from ${begin}`);
    }
  }
});

Deno.test("a position that ran back and is further on than ever was wrong: the card comes back", () => {
  let state = ride([[7_500, 30]], from(6_900, startFollowing({ index: 2 })));
  where.at -= 800;
  state = ride([[7_200, 25]], state);
  assert.equal(state.doubt, "turned", "800 m back for 25 s");
  where.at += 800;
  state = ride([[8_700, 35]], state);
  assert.deepEqual([state.doubt, state.face], [null, { index: 2, word: "estimated" }]);
});

Deno.test("a train that runs past at speed and stands soon after has missed the stop: asked", () => {
  const state = ride([[3_420, 140], [3_420, 60]], from(100));
  assert.deepEqual([state.past, state.face.word === "sure"], [false, false], "23 m/s past the platform: it did not brake for it");
  assert.equal(proposedByPlace(state, LINE), 1);
});

Deno.test("after a blind time the first places may be a jump: near a platform not sure for 20 s", () => {
  let state = blind(ride([[2_300, 75]], from(800)), 60);
  where.at = 2_850;
  state = ride([[2_860, 10]], state);
  assert.deepEqual(state.face, { index: 0, word: "estimated" }, "perhaps it stands 100 m beyond");
  state = blind(ride([[7_000, 60]], from(6_300, startFollowing({ index: 2 }))), 20);
  where.at = 7_500;
  state = ride([[7_540, 2]], state);
  assert.deepEqual(state.face, { index: 2, word: "sure" }, "far from any it is the right card either way");
});
