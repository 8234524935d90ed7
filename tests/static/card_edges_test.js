// Edges of the card that small mistakes in it would move (tests/static/test_mutants.py).
import assert from "node:assert/strict";
import { barWords, cardLines, isLowered, listedHere, listedRank, warnedWords } from "../../static/core/card.js";
import { words } from "../../static/words/en.js";

const w = words.card;
const train = { cars: 8, length_m: 160, steps: ["step 1", "step 2", "step 3"] };
const base = {
  route: { speed_unit: "mph", distance_unit: "mi-ch" },
  directions: [{ key: "down", sign: 1 }],
  landmarks: [{ words: "post", at_m: 1000 }],
  listed: [
    { key: "wood", state: "dry", from_m: 1000, to_m: 2000 },
    { key: "far", state: "dry", from_m: 0, to_m: 1000 },
  ],
  states: [{ key: "dry", name: "Dry" }, { key: "wet", name: "Wet" }],
};
const mark = { index: 0, words: "post", far: false };
const row = (advice = {}, more = {}) => ({
  target: { kind: "stop", name: "Harrowmere", direction: "down", listed: [], words: "Harrowmere" },
  season: 1, state: 0,
  advice: { status: 0, brake: 1400, mark, step: 0, flags: 0, speeds: [], worse: null, ...advice },
  ...more,
});
const lines = (one, of = train) => cardLines(base, one, of, w);
const kinds = (one) => lines(one).map(({ kind, shape }) => shape ?? kind);
const listed = (key) => row({}, { target: { ...row().target, listed: [key] } });

Deno.test("why advice is off stands in its own words, what bars it in others", () => {
  assert.equal(barWords({ why: "off", reason: "other" }, w), w.off(w.offWords.other));
  const other = Object.keys(w.barWords)[0];
  assert.equal(barWords({ why: other, reason: null }, w), w.barWords[other]);
});

Deno.test("without a train, or a step, no step is named", () => {
  assert.equal(lines(row(), null)[1].tail, "");
  assert.equal(lines(row({ step: null }))[1].tail, "");
  assert.notEqual(lines(row())[1].tail, "");
});

Deno.test("one speed is shown, none makes no line", () => {
  const one = row({ speeds: [{ words: "ramp", speed: 20 }] });
  assert.deepEqual(kinds(one).slice(-1), ["speeds"]);
  assert.ok(!kinds(row()).includes("speeds"));
  assert.ok(isLowered({ ...one, lowered: ["notice"] }));
  assert.ok(!isLowered({ ...row(), lowered: ["notice"] }), "no speed to lower");
});

Deno.test("a place listed with the best state of the chain is a reason too", () => {
  assert.equal(listedRank(base, listed("wood"), train), 0);
  assert.deepEqual(kinds(listed("wood")).slice(-1), ["listed"]);
  assert.equal(listedRank(base, row(), train), -1);
  assert.ok(!kinds(row()).includes("listed"));
});

Deno.test("where nobody knows the mark or the train's length, a listed place counts to its end", () => {
  const unknown = row({ status: 2, mark: null }, { target: { ...row().target, listed: ["far"] } });
  assert.equal(listedHere(base, unknown, train).length, 1, "no mark: every place counts");
  assert.equal(listedHere(base, listed("far"), null).length, 1, "ends at the mark itself");
  const short = { ...base, listed: [{ ...base.listed[1], to_m: 999 }] };
  assert.equal(listedHere(short, listed("far"), null).length, 0, "one metre before it");
});

Deno.test("a warning that is not sure, or of a state without a name, says the worst only", () => {
  const said = (certain, name) => warnedWords({ certain, name, when: "06:40" }, w);
  assert.equal(said(true, "Wet"), w.warned("Wet", "06:40"));
  assert.equal(said(false, "Wet"), w.warnedWorst("06:40"));
  assert.equal(said(true, null), w.warnedWorst("06:40"));
});

Deno.test("two reasons fill the box: buffers' note and a listed place leave no room for a notice", () => {
  const target = { ...row().target, kind: "buffers", note: "2 yards short", listed: ["wood"] };
  const full = row({ speeds: [{ words: "ramp", speed: 20 }] }, { target, lowered: ["notice"] });
  assert.deepEqual(lines(full).filter(({ kind }) => kind === "why").map(({ shape }) => shape), ["note", "listed"]);
  const room = { ...full, target: { ...target, listed: [] } };
  assert.equal(lines(room).filter(({ kind }) => kind === "why").length, 2);
});

Deno.test("a card of very many words keeps its last speed, and a text already short is not shortened for ever", () => {
  const long = Array.from({ length: 30 }, (_, i) => `word${i}`).join(" ");
  const target = { ...row().target, name: long, listed: ["wood"] };
  const speeds = [{ words: "lane", speed: 40 }, { words: "ramp", speed: 20 }];
  const shown = lines(row({ speeds }, { target, lowered: ["notice"] }));
  assert.deepEqual(shown.find(({ kind }) => kind === "speeds").speeds, [speeds[1]]);
  assert.equal(shown.at(-1).main, w.loweredShort);
  assert.ok(lines(row({}, { target })).length >= 3, "no speeds at all: nothing to leave out");
});

Deno.test("the first line is shortened where it is the only one that can be", () => {
  const long = Array.from({ length: 30 }, (_, i) => `word${i}`).join(" ");
  const target = { ...row().target, name: long, kind: "buffers" };
  const ladder = [{ words: "lane", speed: 40 }, { words: "ramp", speed: 20 }];
  const shown = lines(row({ speeds: ladder }, { target }));
  assert.equal(shown.find(({ kind }) => kind === "speeds").speeds.length, 2, "a ladder stays whole");
});
