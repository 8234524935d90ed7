// R36: a position's age comes from how its stamps go on, not from two clocks that differ.
import { dateFix, fixOf, startFixClock } from "../../static/core/fixes.js";

const START = 1_800_000_000_000;

/** @param {unknown} got @param {unknown} wanted @param {string} what */
function equal(got, wanted, what) {
  if (got !== wanted) throw new Error(`${what}: ${got}, not ${wanted}`);
}

/**
 * Ages in seconds of fixes given as [arrived, stamp, tablet's clock] in seconds; nothing
 * where nobody can tell. The tablet's clock is right where it is not given.
 */
function ages(rows, clock = startFixClock()) {
  const out = [];
  for (const [arrived, stamp, now = arrived] of rows) {
    const dated = dateFix(clock, START + stamp * 1000, START + now * 1000, START + arrived * 1000);
    clock = dated.clock;
    out.push(dated.at === null ? null : (START + arrived * 1000 - dated.at) / 1000);
  }
  return out.join();
}

Deno.test("r36: clocks that agree: a fix is as old as its stamp says", () => {
  equal(ages([[0, -3], [1, 0.5], [2, -4]]), "3,0.5,6", "ages");
});

for (const [what, wrong] of [["an hour slow", 3600], ["eight days fast", -691200], ["a minute", 60]]) {
  Deno.test(`r36: satellite stamps and a clock that is ${what}: one fix lost, then all count`, () => {
    equal(ages([[0, wrong], [1, 1 + wrong], [2, 2 + wrong], [6, 5 + wrong]]), ",0,0,1", "ages");
  });
  Deno.test(`r36: stamps by the tablet's own clock, set to be ${what} while running: none lost`, () => {
    equal(ages([[0, 0, 0], [1, 1 - wrong, 1 - wrong], [2, 1 - wrong, 2 - wrong]]), "0,0,1", "ages");
  });
}

Deno.test("r36: an old position handed out again and again stays of unknown age", () => {
  equal(ages([[0, -60], [1, -60], [5, -60], [60, -60]]), ",,,", "ages");
});

Deno.test("r36: an old position, then the true one: only the true one counts", () => {
  equal(ages([[0, -60], [2, 2], [3, -60], [4, 4]]), ",0,,0", "ages");
});

Deno.test("r36: a queue of old positions let go at once counts for nothing", () => {
  equal(ages([[0, -60], [0.01, -59], [0.02, -58], [0.03, -57], [1.2, 1.2]]), ",,,,0", "ages");
});

Deno.test("r36: the receiver's clock is set while the train runs: one fix is lost", () => {
  equal(ages([[0, 0], [1, 1], [2, 3602], [3, 3603], [4, 3604]]), "0,0,,0,0", "ages");
  equal(ages([[0, 0], [1, 1], [2, -3598], [3, -3597], [4, -3596]]), "0,0,,0,0", "ages");
});

Deno.test("r36: a place without numbers is none, and a speed that is no speed is not known", () => {
  const coords = { latitude: 50, longitude: 0, accuracy: 10, speed: 20 };
  equal(JSON.stringify(fixOf(coords, 7)), '{"lat":50,"lon":0,"accuracy":10,"at":7,"speed":20}', "fix");
  for (const speed of [null, undefined, NaN, -1, Infinity]) equal(fixOf({ ...coords, speed }, 7)?.speed, null, `speed ${speed}`);
  equal(fixOf({ ...coords, speed: 0 }, 7)?.speed, 0, "standing");
  for (const wrong of [{ latitude: NaN }, { longitude: undefined }, { accuracy: null }, { accuracy: -1 }, { accuracy: NaN }]) {
    equal(fixOf({ ...coords, ...wrong }, 7), null, JSON.stringify(wrong));
  }
});
