/** Restrictions on the tablet: what is taken in, what the card makes of it, what is said. */
import assert from "node:assert/strict";
import { cardLines, countWords, textOf } from "../../static/core/card.js";
import { afterAnswer, noRestrictions, restrictionsKept, tripRestrictions } from "../../static/core/restrictions.js";
import { tripView } from "../../static/core/trip.js";
import { words as german } from "../../static/words/de.js";
import { words } from "../../static/words/en.js";

const golden = JSON.parse(Deno.readTextFileSync(new URL("../golden/lookup.json", import.meta.url)));
/** Its figures are invented: here every stop has some, so that speeds are shown. */
const zero = (cell) => (Array.isArray(cell) ? cell.map(zero) : 0);
const table = { ...golden.table, columns: { ...golden.table.columns, flags: zero(golden.table.columns.flags) } };
const NOW = Date.parse("2026-11-25T08:00:00Z");
const READING = { now: NOW, offset: 0, kept: 0, heard: NOW };
const base = {
  ...golden.base, listed: [], geometry: [],
  route: { ...golden.base.route, datum: "the old quay", mps_per_unit: 0.44704 },
  states: golden.base.states.map((state, i) => ({ ...state, pickable: i < 3 })),
  targets: golden.base.targets.map((one, i) => ({
    ...one, name: one.key, kind: i === 1 ? "reduction" : "stop", listed: [], platform: null, words: "40",
    approach_speed: [30, 30], reach_m: [900, 1100], limit_m: one.mark_m,
  })),
  places: [{ key: "start", name: "Start", at_m: 0 }],
  trains: [{ key: "four", type: "disc", formation: "4", cars: 4, isolated_cars: 0, steps: ["1", "2", "3"], length_m: 80 }],
  trips: [{
    key: "t1", name: "05:12", direction: "down", train_type: "disc", formation: "4",
    starts: { place: "start", depart: "05:12" }, calls: [{ target: "one/down" }],
  }],
  settings: { rail_state_hours: 3, walking_speed_mps: 1.4 },
};
const restriction = (more = {}) => ({
  id: "r", rev: 1, line: "golden", direction: "down", datum: "the old quay", from_m: -500, to_m: 9000,
  speed: 15, unit: "mph", speed_mps: 6.7056, from_at: "2026-11-25T06:40:00Z", until_at: null, reference: "notice 14", ...more,
});
const view = (restricted, reading = READING) => tripView(
  { sha: "a", base, table, files: [], fetchedAt: 0 },
  { route: "golden", pack: "a", trip: "t1", formation: "4", isolated: 0, wsp: "works", state: base.states[2].key, stateAt: NOW, trainChanged: false },
  NOW, "2026-11-25", { held: [], restricted, reading },
);
const answer = (items, more = {}) => ({
  status: 200, ours: true, type: "application/json", retryAfter: null, etag: '"one"',
  text: JSON.stringify({ items, server_time: "2026-11-25T07:59:00Z" }), ...more,
});
const held = () => afterAnswer(noRestrictions(), answer([restriction()]), NOW);
const card = (row, w = words.card) => cardLines(base, row, base.trains[0], w).map(textOf);

Deno.test("the whole answer takes the place of what was held", () => {
  const first = held();
  assert.deepEqual(first.rows, [restriction()]);
  assert.equal(first.at, NOW - 60_000, "by the depot's clock");
  assert.deepEqual(afterAnswer(first, answer([]), NOW).rows, [], "ended at the desk: gone here");
  const same = afterAnswer(first, { ...answer([]), status: 304, text: "" }, NOW + 5);
  assert.deepEqual([same.rows, same.at, same.etag], [first.rows, NOW + 5, '"one"']);
});

Deno.test("what cannot be read changes nothing, is said, and is asked for again", () => {
  const bad = [
    ...["id", "line", "direction", "datum", "reference"].map((name) => ({ [name]: 4 })),
    { speed: 0 }, { speed: 12.5 }, { speed: 251 }, { speed: "20" }, { speed_mps: -1 }, { speed_mps: null }, { unit: "knots" },
    { from_m: "1" }, { to_m: null }, { from_at: "soon" }, { from_at: null }, { until_at: "later" }, { until_at: undefined }, { rev: "1" },
  ].map((more) => [restriction({ id: "s" }), restriction(more)]);
  for (const items of [...bad, [null], [restriction(), restriction()], "none", undefined, {}]) {
    const found = afterAnswer(held(), answer(items), NOW);
    assert.deepEqual([found.rows, found.at, found.refused, found.etag], [held().rows, held().at, true, null], JSON.stringify(items));
  }
  for (const text of ["", "{", "null", '{"items": []}']) {
    assert.equal(afterAnswer(held(), answer([], { text }), NOW).refused, true, text);
  }
  assert.equal(afterAnswer(afterAnswer(held(), answer("bad"), NOW), answer([]), NOW).refused, false);
});

Deno.test("another network's words and errors change nothing at all", () => {
  const before = held();
  for (const more of [{ ours: false }, { status: 500 }, { status: 503 }, { status: 404 }, { status: 302 }]) {
    assert.equal(afterAnswer(before, answer([], more), NOW), before, JSON.stringify(more));
  }
  assert.equal(afterAnswer(noRestrictions(), answer([], { status: 304 }), NOW).at, null);
});

Deno.test("what lies on the disk is read back whole, or said to be unreadable", () => {
  assert.deepEqual(restrictionsKept(undefined), noRestrictions());
  assert.deepEqual(restrictionsKept(structuredClone(held())), held());
  for (const kept of [null, {}, { ...held(), at: null }, { ...held(), rows: [restriction({ speed: null })] }]) {
    assert.equal(restrictionsKept(kept).broken, true, JSON.stringify(kept));
  }
});

Deno.test("in force it lowers the speeds on the card; marks stay, and 25 words are enough", () => {
  const [plain, low] = [view([]).calls[0], view([restriction()]).calls[0]];
  assert.ok(plain.advice.speeds.some(({ speed }) => speed > 15));
  assert.ok(low.advice.speeds.every(({ speed }) => speed <= 15));
  const rest = ({ advice }) => ({ ...advice, speeds: 0, run_in: 0, worse: 0 });
  assert.deepEqual(rest(low), rest(plain));
  assert.ok(low.advice.run_in <= plain.advice.run_in);
  assert.deepEqual(low.advice.worse.mark, plain.advice.worse.mark);
  assert.deepEqual(card(low).at(-1), words.card.lowered);
  assert.ok(!card(plain).includes(words.card.lowered));
  for (const w of [words.card, german.card]) assert.ok(countWords(cardLines(base, low, base.trains[0], w)) <= 25);
});

Deno.test("it never shows itself: neither its speed as typed nor its notice is on the card", () => {
  const text = card(view([restriction({ speed: 17, speed_mps: 7.59968, reference: "notice 14" })]).calls[0]).join(" ");
  assert.doesNotMatch(text, /17|notice 14/);
});

Deno.test("to come it lowers nothing; past its end it counts on and says so", () => {
  const come = view([restriction({ from_at: "2026-11-26T06:40:00Z" })]);
  assert.deepEqual(come.calls[0].advice, view([]).calls[0].advice);
  assert.deepEqual(come.restrictions.map(({ begun, from, until, over }) => [begun, from, until, over]), [[false, "2026-11-26 06:40", null, false]]);
  const past = view([restriction({ until_at: "2026-11-25T07:00:00Z" })]);
  assert.deepEqual(past.restrictions.map(({ begun, until, over }) => [begun, until, over]), [[true, "07:00", true]]);
  assert.deepEqual(past.calls[0].advice, view([restriction()]).calls[0].advice);
  const unsure = { now: NOW - 40 * 86_400_000, offset: null, kept: null, heard: NOW };
  assert.equal(view([restriction()], unsure).restrictions[0].begun, true, "a clock that is surely wrong");
});

Deno.test("another line's and the other direction's are left out; an unknown direction may be this one", () => {
  const found = (more) => tripRestrictions(base, "down", [restriction(more)], READING).length;
  assert.deepEqual([{}, { line: "other" }, { direction: "up" }, { direction: "sideways" }].map(found), [1, 0, 0, 1]);
});

Deno.test("on another mileage nobody knows where it lies: it lies everywhere", () => {
  const far = { from_m: 90_000, to_m: 91_000 };
  assert.deepEqual(view([restriction(far)]).calls[0].lowered, []);
  assert.deepEqual(view([restriction({ ...far, datum: "the new quay" })]).calls[0].lowered, ["r"]);
});

Deno.test("they stand in the order in which the train meets them", () => {
  const two = [restriction({ id: "b", from_m: 2000, to_m: 3000 }), restriction({ id: "a", from_m: 100, to_m: 400 })];
  const ids = (direction) => tripRestrictions(base, direction, two.map((one) => ({ ...one, direction })), READING).map((one) => one.restriction.id);
  assert.deepEqual([ids("down"), ids("up")], [["a", "b"], ["b", "a"]]);
});

