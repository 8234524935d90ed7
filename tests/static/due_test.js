// Which trips are offered first, and which a time or a number finds.
import assert from "node:assert/strict";
import { dueNext, foundTrips } from "../../static/core/due.js";

const trip = (depart, key = `d${(depart ?? "none").replace(":", "")}`) => ({ key, name: `${depart} Kettle Bay to Great Tarrow`, starts: { place: "a", depart } });
const all = ["05:12", "23:50", "00:10", "06:12", "12:00"].map((time) => trip(time));
const keys = (trips) => trips.map(({ key }) => key);

Deno.test("the trip that leaves next is the first, over midnight too", () => {
  assert.deepEqual(keys(dueNext(all, 5 * 60, 2)), ["d0512", "d0612"]);
  assert.deepEqual(keys(dueNext(all, 23 * 60 + 40, 3)), ["d2350", "d0010", "d0512"]);
});

Deno.test("a train that is a few minutes late is still offered, one long gone is not", () => {
  assert.deepEqual(keys(dueNext(all, 5 * 60 + 20, 1)), ["d0512"]);
  assert.deepEqual(keys(dueNext(all, 5 * 60 + 40, 1)), ["d0612"]);
});

Deno.test("a trip without a time is never offered as due", () => {
  assert.deepEqual(dueNext([trip(null)], 300, 3), []);
});

Deno.test("of 460 trips a day a time finds the one, as it is typed in haste", () => {
  const many = Array.from({ length: 460 }, (_, i) => {
    const at = 240 + i * 2;
    return trip(`${String(Math.floor(at / 60)).padStart(2, "0")}:${String(at % 60).padStart(2, "0")}`, `n${1000 + i}`);
  });
  for (const asked of ["5:12", "0512", "05:12", "512", " 05.12 "]) assert.deepEqual(keys(foundTrips(many, asked)), ["n1036"], asked);
  assert.deepEqual(keys(foundTrips(many, "n1036")), ["n1036"]);
  assert.equal(foundTrips(many, "").length, 460);
  assert.equal(foundTrips(many, "tarrow").length, 460);
  assert.deepEqual(foundTrips(many, "no such"), []);
});
