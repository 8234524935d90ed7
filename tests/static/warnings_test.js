/** Warnings on the tablet: R34 (clocks), R82 (what is missing is never normal), whose advice they change. */
import assert from "node:assert/strict";
import { cardLines, countWords, textOf } from "../../static/core/card.js";
import { lookUp } from "../../static/core/table.js";
import { tripView } from "../../static/core/trip.js";
import { changes, depotTime, feedPage, hasBegun, meets, readingOf, tripWarnings } from "../../static/core/warnings.js";
import { words } from "../../static/words/en.js";

const golden = JSON.parse(Deno.readTextFileSync(new URL("../golden/lookup.json", import.meta.url)));
const MINUTE = 60_000;
const HOUR = 60 * MINUTE;
const NOW = Date.parse("2026-11-25T08:00:00Z");
const states = golden.base.states.map((state, i, all) => ({ ...state, pickable: i < all.length - 1 }));
const LAST = states.length - 1;
const targets = golden.base.targets.map((one, i) => ({
  ...one, name: one.key, kind: i === 1 ? "reduction" : "stop", listed: [], platform: null, words: "40",
  approach_speed: [30, 30], reach_m: [900, 1100], limit_m: one.mark_m.map((mark) => (mark === null ? null : mark + 30)),
}));
const base = {
  ...golden.base, states, targets, listed: [], geometry: [],
  route: { ...golden.base.route, key: "golden", datum: "the old quay" },
  places: [{ key: "start", name: "Start", at_m: 0 }],
  trains: [{ key: "four", type: "disc", formation: "4", cars: 4, isolated_cars: 0, steps: ["1", "2", "3"], length_m: 80 }],
  trips: [{
    key: "t1", name: "05:12", direction: "down", train_type: "disc", formation: "4",
    starts: { place: "start", depart: "05:12" },
    calls: targets.filter((one) => one.direction === "down" && one.kind === "stop").map((one) => ({ target: one.key })),
  }],
  settings: { rail_state_hours: 3, walking_speed_mps: 1.4 },
};
const pack = { sha: "a", base, table: golden.table, files: [], fetchedAt: 0 };
const READING = { now: NOW, offset: 0, kept: null, heard: NOW };

/** Whole warning about the approach to the first stop. */
const MARK = targets[0].mark_m[0];
const warning = (more = {}) => ({
  id: "w", rev: 2, feed_no: 1, status: "published", line: "golden", direction: "down", datum: "the old quay",
  from_m: MARK - 200, to_m: MARK - 100, state: states[LAST - 1].key, reason: "leaf film",
  from_at: "2026-11-25T06:40:00Z", review_at: null, told_by: "signaller", reference: "", ...more,
});
const view = (held, { state = states[0].key, reading = READING, from = base } = {}) => tripView(
  { ...pack, base: from },
  { route: "golden", pack: "a", trip: "t1", formation: "4", isolated: 0, state, stateAt: NOW, trainChanged: false },
  NOW, "2026-11-25", { held, reading },
);
const picks = (v) => v.rows.map((row) => row.state);

/** Small random source, so that a failure can be repeated. */
function random(seed) {
  let s = seed;
  return (n) => ((s = (s * 1103515245 + 12345) & 0x7fffffff) >> 8) % n;
}

Deno.test("the golden line has what these tests need", () => {
  assert.ok(LAST >= 2);
  assert.ok(base.trips[0].calls.length >= 1);
  assert.equal(base.directions.find((one) => one.key === "down").sign, 1);
});

Deno.test("a live warning gives its stop the worse state, and only its stop", () => {
  const [plain, warned] = [view([]), view([warning()])];
  const at = warned.rows.findIndex((row) => row.warned);
  assert.ok(at >= 0);
  warned.rows.forEach((row, i) => {
    const met = meets(base, row.target, 0, warned.warnings[0]);
    assert.equal(row.state, met ? LAST - 1 : 0, row.target.key);
    if (!met) assert.deepEqual(row, plain.rows[i]);
    const { season, targetIndex, state } = row;
    assert.deepEqual(row.advice, lookUp(base, pack.table, { target: targetIndex, train: 0, state, season, speed: null }));
  });
});

Deno.test("property: every stop gets max(driver's, warnings that meet it), over chains and ranges", () => {
  const rand = random(2026);
  let met = 0;
  let missed = 0;
  for (let run = 0; run < 4000; run++) {
    const own = rand(LAST);
    const held = Array.from({ length: rand(4) }, (_, i) => {
      const from = MARK - 3000 + rand(4000);
      return warning({
        id: `w${i}`, from_m: from, to_m: from + rand(600), state: states[rand(states.length)].key,
        direction: ["down", "up"][rand(2)], line: ["golden", "golden", "other"][rand(3)],
        from_at: new Date(NOW - HOUR + rand(3) * HOUR).toISOString(),
      });
    });
    const got = view(held, { state: states[own].key });
    got.rows.forEach((row) => {
      const begins = row.target.mark_m[0] - row.target.reach_m[0];
      const here = held.filter((one) => one.line === "golden" && one.direction === "down"
        && Date.parse(one.from_at) <= NOW && one.to_m >= begins && one.from_m <= row.target.limit_m[0]);
      const ranks = here.map((one) => states.findIndex((state) => state.key === one.state));
      assert.equal(row.state, Math.max(own, ...ranks));
      // The one that is named is the worst; none is named that is milder than planned.
      assert.equal(row.warned?.rank ?? -1, Math.max(-1, ...ranks) >= own ? Math.max(-1, ...ranks) : -1);
      if (here.length > 0) met += 1;
      else missed += 1;
    });
  }
  assert.ok(met > 300 && missed > 300, `${met} ${missed}`);
});

Deno.test("the range is closed at both its ends, and the other direction is mirrored", () => {
  const target = targets[0];
  const at = (from_m, to_m, direction = "down") => {
    const here = { ...target, direction, limit_m: [MARK + (direction === "down" ? 30 : -30)] };
    const [one] = tripWarnings(base, direction, [warning({ from_m, to_m, direction })], READING);
    return meets(base, here, 0, one);
  };
  assert.ok(at(MARK - 950, MARK - 900) && !at(MARK - 950, MARK - 900.01));
  assert.ok(at(MARK + 30, MARK + 90) && !at(MARK + 30.01, MARK + 90));
  assert.ok(at(MARK - 2000, MARK + 2000));
  assert.ok(at(MARK + 900, MARK + 950, "up") && !at(MARK + 900.01, MARK + 950, "up"));
  assert.ok(at(MARK - 90, MARK - 30, "up") && !at(MARK - 90, MARK - 30.01, "up"));
  assert.ok(at(MARK - 100, MARK - 200), "ends the other way round");
});

Deno.test("a warning that meets no approach is shown and changes no number", () => {
  const far = view([warning({ from_m: MARK + 500000, to_m: MARK + 500100 })]);
  assert.equal(far.warnings.length, 1);
  assert.deepEqual(picks(far), picks(view([])));
});

Deno.test("r82: take away any field of a warning, one at a time: never milder, never less", () => {
  const whole = view([warning()]);
  for (const field of Object.keys(warning())) {
    for (const value of [undefined, null, "", {}, Number.NaN]) {
      const less = { ...warning(), [field]: value };
      if (value === undefined) delete less[field];
      // Another line's key is another line; all else that is no key may be this one.
      if (field === "line" && value === "") continue;
      const got = view([less]);
      assert.equal(got.warnings.length, 1, `${field}=${value}`);
      got.rows.forEach((row, i) => assert.ok(row.state >= whole.rows[i].state, `${field}=${value} ${row.target.key}`));
    }
  }
});

Deno.test("r82: a pack without reach, limit, mark or datum lets every warning reach its stops", () => {
  const far = warning({ from_m: MARK - 500000, to_m: MARK - 499000 });
  assert.equal(view([far]).rows[0].state, 0, "the control");
  for (const field of ["reach_m", "mark_m"]) {
    const from = { ...base, targets: targets.map((one) => ({ ...one, [field]: field === "mark_m" ? one.mark_m.map(() => null) : undefined })) };
    assert.ok(view([far], { from }).rows.every((row) => row.state === LAST - 1), field);
  }
  const past = warning({ from_m: MARK + 500000, to_m: MARK + 500100 });
  const open = { ...base, targets: targets.map((one) => ({ ...one, limit_m: undefined })) };
  assert.equal(view([past], { from: open }).rows[0].state, LAST - 1);
  const moved = { ...base, route: { ...base.route, datum: "another quay" } };
  assert.ok(view([far], { from: moved }).rows.every((row) => row.state === LAST), "other datum: the worst, everywhere");
});

Deno.test("a state this pack does not know is planned as the worst, there", () => {
  const got = view([warning({ state: "glaze" })]);
  assert.equal(got.rows[0].state, LAST);
  assert.deepEqual([got.warnings[0].certain, got.warnings[0].name], [false, null]);
});

Deno.test("r34: by the depot's clock a warning begins when it says, whatever the tablet shows", () => {
  const from = { from_at: "2026-11-25T08:00:00Z" };
  for (const wrong of [-HOUR, HOUR, 8 * 24 * HOUR, -NOW]) {
    const reading = (true_now) => ({ now: true_now + wrong, offset: -wrong, kept: null, heard: null });
    assert.equal(hasBegun(warning(from), reading(NOW - 3 * MINUTE)), false);
    assert.equal(hasBegun(warning(from), reading(NOW)), true);
    assert.equal(depotTime(reading(NOW)), NOW);
  }
});

Deno.test("r34: with no contact since the start a wrong clock never hides a live warning", () => {
  const live = warning();
  for (const [now, kept] of [[0, null], [NOW - 30 * HOUR, 0], [NOW - 2 * HOUR, 2 * HOUR], [NOW + HOUR, -HOUR], [NOW - 8 * 24 * HOUR, null]]) {
    // The tablet was told of it at 06:45 and started again without the depot.
    const reading = { now, offset: null, kept, heard: Date.parse("2026-11-25T06:45:00Z") };
    assert.ok(hasBegun(live, reading), `${now} ${kept}`);
  }
  const later = warning({ from_at: "2026-11-25T09:00:00Z" });
  const told = { offset: null, heard: NOW - HOUR };
  assert.equal(hasBegun(later, { ...told, now: NOW, kept: 0 }), false, "the control: a right clock waits");
  assert.ok(hasBegun(later, { ...told, now: NOW, kept: HOUR }), "by the earlier known offset it has begun");
  assert.ok(hasBegun(later, { ...told, now: NOW + HOUR, kept: -HOUR }), "by the tablet's own clock it has begun");
  assert.ok(hasBegun(later, { ...told, now: 0, kept: null }), "a clock before the depot's last word says nothing");
});

Deno.test("no clock ends a warning; a passed review time only asks", () => {
  const asked = warning({ review_at: "2026-11-25T07:00:00Z" });
  for (const now of [NOW, NOW + 400 * 24 * HOUR]) {
    const got = view([asked], { reading: { ...READING, now } });
    assert.equal(got.rows[0].state, LAST - 1);
    assert.ok(got.warnings[0].review);
  }
  assert.equal(view([warning({ review_at: "2026-11-25T09:00:00Z" })]).warnings[0].review, null);
});

Deno.test("the card says what was warned and when, in at most 25 words", () => {
  const row = view([warning()]).calls[0];
  const lines = cardLines(base, row, base.trains[0], words.card);
  assert.equal(textOf(lines.at(-1)).toLowerCase(), `${states[LAST - 1].name}, warned 06:40`);
  assert.ok(countWords(lines) <= 25);
  const unknown = view([warning({ state: "glaze" })]).calls[0];
  assert.equal(textOf(cardLines(base, unknown, base.trains[0], words.card).at(-1)), "Warned 06:40");
});

Deno.test("a warning milder than the driver's choice changes nothing and is no reason on the card", () => {
  const v = view([warning({ state: states[0].key })], { state: states[1].key });
  assert.equal(v.calls[0].state, 1);
  assert.equal(v.calls[0].warned, null);
  assert.equal(v.warnings.length, 1);
});

const answer = (body, more = {}) => ({
  status: 200, type: "application/json", ours: true, retryAfter: null, text: JSON.stringify(body), ...more,
});
const page = { feed_no: 3, mark: "ab", server_time: "2026-11-25T08:00:00Z", items: [warning()], restored: false };

Deno.test("only the depot's own whole answer is taken for a feed", () => {
  assert.equal(feedPage(answer(page)).feedNo, 3);
  assert.equal(feedPage(answer(page)).at, NOW);
  assert.equal(feedPage(answer(page)).restored, false);
  assert.equal(feedPage(answer({ ...page, restored: undefined })).restored, true, "an older depot does not say");
  for (const field of ["feed_no", "server_time", "items"]) {
    assert.equal(feedPage(answer({ ...page, [field]: undefined })), null, field);
  }
  assert.equal(feedPage(answer({ ...page, items: [{ status: "published" }] })), null, "a row without a name");
  assert.equal(feedPage(answer(page, { ours: false })), null, "a portal");
  assert.equal(feedPage(answer(page, { status: 500 })), null);
  assert.equal(feedPage(answer(page, { text: "<html>" })), null);
  assert.equal(feedPage(answer(null)), null);
});

Deno.test("the reading is made of what the tablet knows", () => {
  const warnings = { rows: [], at: 5, kept: 7, broken: false };
  assert.deepEqual(readingOf({ clockOffset: 3, warnings }, 1), { now: 1, offset: 3, kept: 7, heard: 5 });
});

const held = (id, more = {}) => ({ id, rev: 2, ...more });
const pageOf = (items, more = {}) => ({ feedNo: 5, mark: "", epoch: "b", at: 0, items, restored: false, ...more });
const from = { feedNo: 5 };

Deno.test("a lower number in the same history is refused", () => {
  assert.equal(changes([held("one")], { feedNo: 6 }, pageOf([])), null);
  assert.deepEqual(changes([], from, pageOf([])), { put: [], drop: [] });
});

Deno.test("what the whole does not name goes, and the rest is as it says", () => {
  const what = changes([held("kept"), held("missing")], from, pageOf([held("kept", { rev: 3 }), held("new")]));
  assert.deepEqual(what, { put: [held("kept", { rev: 3 }), held("new")], drop: ["missing"] });
});

Deno.test("after a restore what the depot does not name stays, marked; what it says ended goes", () => {
  const rows = [held("kept"), held("missing"), held("ended")];
  const items = [held("kept", { rev: 3 }), held("new"), held("ended", { status: "ended" })];
  const what = changes(rows, { feedNo: 9 }, pageOf(items, { restored: true }));
  assert.deepEqual(what, {
    put: [held("kept", { rev: 3 }), held("new"), held("missing", { heldBefore: true })], drop: ["ended"],
  });
});

Deno.test("what was changed in one and lost in a restore stays as it is held, marked, until it is told again", () => {
  const rows = [held("amended", { rev: 3, state: "leaf" })];
  const older = held("amended", { rev: 2, state: "damp", status: "published" });
  const marked = held("amended", { rev: 3, state: "leaf", heldBefore: true });
  assert.deepEqual(changes(rows, { feedNo: 9 }, pageOf([older], { restored: true })), { put: [marked], drop: [] });
  assert.deepEqual(changes([marked], from, pageOf([older])), { put: [], drop: [] });
  const again = held("amended", { rev: 3, state: "damp", status: "published" });
  assert.deepEqual(changes([marked], from, pageOf([again])), { put: [again], drop: [] });
  assert.deepEqual(changes([marked], from, pageOf([{ ...older, status: "ended" }])), { put: [], drop: ["amended"] });
});

Deno.test("a marked one goes only by the depot's word about it, also when all else is replaced", () => {
  const rows = [held("marked", { heldBefore: true }), held("plain")];
  assert.deepEqual(changes(rows, from, pageOf([])), { put: [], drop: ["plain"] });
  assert.deepEqual(changes(rows, from, pageOf([held("marked", { status: "ended" })])), { put: [], drop: ["marked", "plain"] });
  const again = held("marked", { rev: 3, status: "published" });
  assert.deepEqual(changes(rows, from, pageOf([again])), { put: [again], drop: ["plain"] });
});
