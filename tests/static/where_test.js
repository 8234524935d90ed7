import assert from "node:assert/strict";
import { follow, startFollowing } from "../../static/core/follow.js";
import { agrees, nearest, reportOf, stationsOf, tileWords, whereIs } from "../../static/core/where.js";
import { words as de } from "../../static/words/de.js";
import { words as en } from "../../static/words/en.js";

// 1° of latitude is 111,195 m: a straight line to the north, platforms of 200 m.
const M = 1 / 111_195;
const geometry = [[0, 0, 0], [0, 20_000 * M, 20_000]];
const target = (place, direction, at, more = {}) => ({
  key: `${place}/${direction}`, place, name: place, direction, platform: direction === "down" ? "1" : "2", kind: "stop",
  platform_from_m: at, platform_to_m: at + 200, ...more,
});
const base = {
  directions: [{ key: "down", sign: 1 }, { key: "up", sign: -1 }],
  places: [["Kettle Bay", 0], ["Ostleford", 5000], ["Pellow Cross", 9000]].map(([name, at_m]) => ({ key: name, name, at_m })),
  targets: [
    target("Kettle Bay", "up", 0, { kind: "buffers" }), target("Ostleford", "down", 5000), target("Ostleford", "up", 5050),
    target("Pellow Cross", "down", 9000), target("Pellow Cross", "down", 8000, { kind: "reduction", key: "slow" }),
  ],
};
const stations = stationsOf(base, "down");
const line = { sign: 1, geometry, walking: 1.4, top: 30, stops: stations.slice(1).map(({ near, far }) => ({ from: near, to: far, earlier: null })) };
const along = { stations, sign: 1, geometry, next: 9000 };

/** Runs up to a place for a minute and stands there; `seen` may bend what the receiver says. */
function standAt(metres, { accuracy = 8, seen = (fix) => fix, seconds = 12 } = {}) {
  let state = startFollowing();
  for (let second = 0; second <= 60 + seconds; second += 1) {
    const now = second * 1000;
    const speed = second < 60 ? 15 : 0;
    const fix = seen({ lat: (metres - Math.max(0, 60 - second) * 15) * M, lon: 0, accuracy, at: now, speed }, second - 60);
    if (fix) state = follow(state, line, fix, now);
  }
  return whereIs(state, along, (60 + seconds) * 1000);
}
const said = (where, w = en) => where.spot && reportOf(where.spot, "mi-ch", w);

Deno.test("stations come in the order of travel, also one where no train of the direction stops", () => {
  assert.deepEqual(stations.map((one) => [one.name, one.target, one.near, one.far]), [
    ["Kettle Bay", null, 0, 200], ["Ostleford", "Ostleford/down", 5000, 5200], ["Pellow Cross", "Pellow Cross/down", 9000, 9200],
  ]);
  assert.deepEqual(stationsOf(base, "up").map((one) => [one.name, one.near]), [["Pellow Cross", -9200], ["Ostleford", -5250], ["Kettle Bay", -200]]);
});

Deno.test("150 m short of a platform it is between two stations, and never the one behind", () => {
  const where = standAt(8850);
  assert.deepEqual(said(where), { target: "Pellow Cross/down", place: "between Ostleford and Pellow Cross, 160 yards before Pellow Cross platform" });
  assert.equal(Math.round(where.at), 8850);
  assert.equal(reportOf(where.spot, "km", de).place, "zwischen Ostleford und Pellow Cross, 150 m vor dem Bahnsteig Pellow Cross");
});

Deno.test("40 m past the end of a platform it is beyond that platform", () => {
  assert.deepEqual(said(standAt(9240)), { target: "Pellow Cross/down", place: "40 yards beyond Pellow Cross platform" });
  assert.deepEqual(said(standAt(5240)), { target: "Ostleford/down", place: "40 yards beyond Ostleford platform" });
});

Deno.test("in the platform it is the stop, and where the trip began the station", () => {
  assert.deepEqual(said(standAt(9190)), { target: "Pellow Cross/down", place: "" });
  assert.deepEqual(said(standAt(150)), { target: null, place: "Kettle Bay" });
});

Deno.test("a distance is said with 15 m or better; a vaguer receiver says no side of a platform's end", () => {
  assert.match(said(standAt(8850, { accuracy: 15 })).place, /yards/);
  assert.equal(said(standAt(8500, { accuracy: 16 })).place, "between Ostleford and Pellow Cross");
  for (const metres of [9190, 9240, 8950]) assert.equal(standAt(metres, { accuracy: 40 }).spot, null, String(metres));
});

Deno.test("where it may be one or the other it is asked, the likeliest first", () => {
  const where = standAt(9218);
  assert.equal(where.spot, null);
  assert.deepEqual(where.near.slice(0, 2).map((one) => tileWords(one, en)), ["Beyond Pellow Cross platform", "Pellow Cross, platform 1"]);
});

Deno.test("a receiver that jumps, has just come back or says nothing leaves it to be asked", () => {
  const jump = (fix, after) => (after >= 3 && after < 18 ? { ...fix, lat: fix.lat - 400 * M } : fix);
  for (const seconds of [5, 10, 15, 17]) assert.equal(standAt(9190, { seen: jump, seconds }).spot, null, `${seconds} s`);
  for (let seconds = 1; seconds < 120; seconds += 1) assert.notEqual(standAt(9190, { seen: jump, seconds }).spot?.kind, "between", `${seconds} s`);
  assert.equal(standAt(9190, { seen: (fix, after) => (after > 2 ? null : fix), seconds: 14 }).spot, null);
  assert.equal(standAt(9190, { seen: (fix, after) => (after > -40 && after < 1 ? null : fix), seconds: 12 }).spot, null);
  assert.equal(standAt(9190, { seen: (fix, after) => (after > -40 && after < 1 ? null : fix), seconds: 30 }).spot.kind, "at");
  assert.equal(standAt(9190, { seen: (fix) => ({ ...fix, lon: 60 * M }) }).spot, null, "on the line beside");
});

Deno.test("without a place the trip's next stop comes first among what is asked", () => {
  const where = whereIs(startFollowing(), along, 0);
  assert.deepEqual([where.spot, where.at], [null, null]);
  assert.deepEqual(where.near.map((one) => tileWords(one, en)), [
    "Pellow Cross, platform 1", "Between Ostleford and Pellow Cross", "Beyond Pellow Cross platform", "Beyond Ostleford platform",
  ]);
});

Deno.test("a spot the driver chose keeps the position only if that agrees", () => {
  const [at] = nearest(stations, 9100);
  assert.equal(agrees(at, 9100), true);
  assert.equal(agrees(at, 9255), true);
  assert.equal(agrees(at, 8850), false);
  assert.equal(agrees({ ...at, kind: "between", station: stations[1], next: stations[2] }, 8850), true);
  assert.equal(agrees({ ...at, kind: "beyond" }, 9100), false);
});
