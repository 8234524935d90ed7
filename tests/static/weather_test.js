import assert from "node:assert/strict";
import { plannedState } from "../../static/core/chain.js";
import { forAnotherRun } from "../../static/core/prepare.js";
import { tripWeather, weatherAfter, weatherKept, withWeather } from "../../static/core/weather.js";
import { words as de } from "../../static/words/de.js";
import { words as en } from "../../static/words/en.js";

const HOUR = 3600_000;
const DAY = 24 * HOUR;
/** Six in the morning by the clock of whoever runs this. */
const NOW = new Date(2026, 10, 25, 6, 0).getTime();
const iso = (time) => new Date(time).toISOString();
const states = ["dry", "wet", "damp", "frost", "leaf", "very-low"].map((key) => ({ key, name: key, pickable: key !== "very-low" }));
const trip = { key: "t", starts: { place: "a", depart: "07:10" }, calls: [{ target: "b/down", arrive: "07:50", depart: null }] };
const base = /** @type {any} */ ({ route: { key: "line" }, states, settings: { rail_state_hours: 3 }, trips: [trip], proposals: { looked_below: 2 } });
const hour = (n, state = "dry", why = [state]) => ({ at: iso(NOW + n * HOUR), state, why });
const line = (changed = {}, more = {}) => ({
  line: "line", given_at: iso(NOW - HOUR), ends_at: iso(NOW + 11 * HOUR),
  hours: Array.from({ length: 38 }, (_, n) => changed[n - 1] ?? hour(n - 1)), ...more,
});
const held = (...rows) => ({ rows, at: NOW, etag: null, refused: false });
const prep = (more = {}) => /** @type {any} */ ({ trip: "t", state: "dry", stateAt: NOW, trainChanged: false, signs: [], ...more });
const found = (row, now = NOW) => tripWeather(base, /** @type {any} */ (trip), row ? [row] : [], now);
const taken = (row, one = prep(), clock = { now: NOW, offset: 0 }) => withWeather(base, one, /** @type {any} */ (held(row)), clock);
const planned = (one) => states[plannedState(base, one, NOW)?.index ?? -1]?.key;
const damp = (n, code = "dew") => ({ [n]: hour(n, "damp", [code]) });

Deno.test("the worst hour from a quarter of an hour before the trip to an hour after it counts", () => {
  assert.equal(found(line())?.state, "dry");
  // Booked 07:10 to 07:50: from 06:55 to 08:50, in hours that end at 06:00 to 09:00.
  for (const n of [0, 1, 2, 3]) assert.equal(found(line(damp(n)))?.state, "damp", `${n}`);
  for (const n of [-1, 4, 5]) assert.equal(found(line(damp(n)))?.state, "dry", `${n}`);
});

Deno.test("reasons are those of the worst state, and from when on it is so", () => {
  assert.deepEqual(found(line({ 2: hour(2, "wet", ["steady-rain"]), 3: hour(3, "damp", ["light-rain"]) }))?.why, ["light-rain"]);
  assert.equal(found(line(damp(3)))?.from, NOW + 2 * HOUR);
  assert.equal(found(line({ ...damp(0), ...damp(1) }))?.from, null);
});

Deno.test("a missing hour, an unknown one, or a state of another chain proposes nothing", () => {
  const short = line();
  assert.equal(found({ ...short, hours: short.hours.filter((_, n) => n !== 3) }), null);
  assert.equal(found({ ...short, hours: short.hours.slice(0, 3) }), null);
  for (const state of [null, "slush", "very-low"]) assert.equal(found(line({ 2: hour(2, /** @type {any} */ (state)) })), null, `${state}`);
  assert.equal(found(null), null);
  assert.equal(found(line({}, { line: "other" })), null);
});

Deno.test("it ends by itself when it is too old, and one from the future is not believed", () => {
  assert.equal(found(line({}, { ends_at: iso(NOW - 1) })), null);
  assert.equal(found(line({}, { given_at: iso(NOW + HOUR) })), null);
});

Deno.test("a trip past midnight, and the same trip tomorrow", () => {
  const late = /** @type {any} */ ({ ...trip, starts: { place: "a", depart: "23:50" }, calls: [{ target: "b", arrive: "24:20", depart: null }] });
  const night = NOW - 5.7 * HOUR; // 00:18, under way since 23:50
  const hours = Array.from({ length: 6 }, (_, n) => hour(n - 7, n === 2 ? "damp" : "dry"));
  const row = line({}, { hours, given_at: iso(night - HOUR) });
  assert.equal(tripWeather(base, late, [row], night)?.state, "damp");
  // At ten this morning's run is over: tomorrow's is 21 hours away.
  const tomorrow = line({ 25: hour(25, "frost", ["frost"]) });
  assert.equal(found(tomorrow, NOW + 4 * HOUR)?.state, "frost");
});

Deno.test("it is taken in place of questions, and a better state counts only once a reason is given", () => {
  const one = taken(line(damp(2)));
  assert.equal(one.asked?.state, "damp");
  assert.deepEqual(one.asked?.answers, {});
  assert.equal(planned(one), "damp");
  assert.equal(planned({ ...one, asked: { ...one.asked, reason: "changed" } }), "damp", "better than damp needs an own look");
  assert.equal(planned({ ...one, asked: { ...one.asked, reason: "looked" } }), "dry");
});

Deno.test("it never makes the driver's own choice milder", () => {
  for (const state of ["wet", "damp", "frost", "leaf"]) assert.equal(planned(taken(line(), prep({ state }))), state);
});

Deno.test("what was answered by looking is only ever made worse", () => {
  const asked = { answers: { rain: "light" }, at: NOW, state: "damp", why: ["light-rain"], reason: null };
  assert.equal(taken(line(), prep({ asked })).asked, asked);
  assert.equal(taken(line({ 2: hour(2, "frost", ["frost"]) }), prep({ asked })).asked?.state, "frost");
});

Deno.test("within a trip a newer one only makes it worse; another run begins anew", () => {
  const one = taken(line(damp(2)));
  assert.equal(taken(line(), one), one);
  assert.equal(taken(line(damp(3)), one), one, "the same state again is no news");
  assert.equal(taken(line({ 2: hour(2, "frost", ["frost"]) }), { ...one, asked: { ...one.asked, reason: "looked" } }).asked?.reason, null);
  assert.equal(taken(line(), forAnotherRun(one)).asked?.state, "dry");
});

Deno.test("a clock wrong by hours is put right; one wrong by a day is noticed, not believed", () => {
  assert.equal(taken(line(damp(2)), prep(), { now: NOW - 5 * HOUR, offset: 5 * HOUR }).asked?.state, "damp");
  for (const offset of [DAY, -DAY]) assert.equal(taken(line(damp(2)), prep(), { now: NOW - offset, offset }).asked, undefined);
  assert.equal(taken(line(damp(2)), prep(), { now: NOW - HOUR, offset: null }).asked, undefined, "set back while offline");
});

Deno.test("an answer is taken whole or not at all", () => {
  const answer = (body, status = 200) => /** @type {any} */ ({ ours: true, status, etag: "e", text: JSON.stringify(body), type: "application/json" });
  const before = /** @type {any} */ (held(line()));
  assert.equal(weatherAfter(before, { ...answer({}), ours: false }, NOW), before);
  assert.equal(weatherAfter(before, answer({}, 404), NOW), before);
  const good = weatherAfter(before, answer({ items: [line(damp(2))], server_time: iso(NOW) }), NOW);
  assert.equal(good.rows[0]?.hours[3].state, "damp");
  const half = { ...line(), hours: [{ at: "soon", state: "dry", why: [] }] };
  for (const items of [[half], [line(), line()], [{}], "none"]) {
    const bad = weatherAfter(before, answer({ items, server_time: iso(NOW) }), NOW);
    assert.deepEqual([bad.rows, bad.refused, bad.etag], [[], true, null]);
  }
  assert.deepEqual(weatherKept({ rows: [half], at: NOW }).rows, []);
  assert.deepEqual(weatherKept(undefined).rows, []);
});

Deno.test("both languages have words for every reason that the weather gives", () => {
  for (const { weather } of [en, de]) {
    const known = { ...weather.whyWords, ...weather.heldWords };
    for (const code of ["dry", "first-rain", "light-rain", "steady-rain", "drying", "mist", "near-dew", "dew", "leaf-residue", "frozen-rain", "frost-seen", "snow", "frost", "leaf", "desk"]) {
      assert.ok(known[code], code);
    }
  }
});
