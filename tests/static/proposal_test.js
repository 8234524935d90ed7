import assert from "node:assert/strict";
import { plannedState } from "../../static/core/chain.js";
import { forAnotherRun } from "../../static/core/prepare.js";
import { proposed, reasonsFor, timeOf, withAnswer } from "../../static/core/proposal.js";
import { words as de } from "../../static/words/de.js";
import { words as en } from "../../static/words/en.js";

const NOW = Date.parse("2026-11-25T08:00:00Z");
const HOUR = 3600_000;
const DAY = 24 * HOUR;
const states = ["dry", "wet", "damp", "leaf", "very-low"].map((key) => ({ key, name: key, pickable: key !== "very-low" }));
// One question; by night the second answer proposes leaf film, by day damp.
const hours = Array.from({ length: 24 }, (_, hour) => (hour < 10 ? 1 : 0));
const base = /** @type {any} */ ({
  states, settings: { rail_state_hours: 3 },
  proposals: {
    leafy: true, looked_below: 2, questions: [{ key: "rain", answers: ["none", "light"] }],
    outcomes: [{ state: "dry", why: ["dry"] }, { state: "damp", why: ["light-rain"] }, { state: "leaf", why: ["leaf"] }],
    rows: [[0, 1], [0, 2]], at: [Array(12).fill(hours), Array(12).fill(hours)],
  },
});
const prep = (more = {}) => /** @type {any} */ ({ state: "dry", stateAt: NOW, trainChanged: false, signs: [], ...more });
const asked = (state, reason = null) => ({ answers: { rain: "light" }, at: NOW, state, why: ["light-rain"], reason });
const planned = (one, now = NOW) => states[plannedState(base, one, now)?.index ?? -1]?.key;
const at = (hour) => ({ month: 11, hour });

Deno.test("nothing is proposed while a question is open, of an unknown answer, or of a pack from before", () => {
  assert.equal(proposed(base, {}, at(12)), null);
  assert.equal(proposed(base, { rain: "hail" }, at(12)), null);
  assert.equal(proposed({ ...base, proposals: undefined }, { rain: "light" }, at(12)), null);
});

Deno.test("the hour counts, and where nobody knows it the worst of all", () => {
  assert.equal(proposed(base, { rain: "light" }, at(12))?.state, "damp");
  assert.equal(proposed(base, { rain: "light" }, at(7))?.state, "leaf");
  assert.equal(proposed(base, { rain: "light" }, null)?.state, "leaf");
});

Deno.test("a clock wrong by hours is put right, one wrong by a day is not believed, nor is one set back", () => {
  assert.equal(timeOf(NOW, 5 * HOUR, NOW)?.hour, 13);
  assert.equal(timeOf(NOW, DAY, NOW), null);
  assert.equal(timeOf(NOW, -DAY, NOW), null);
  assert.equal(timeOf(NOW - DAY, null, NOW), null);
  assert.deepEqual(timeOf(NOW, null, NOW), { month: 11, hour: 8 });
});

Deno.test("a better state than proposed counts once the driver has said why", () => {
  assert.equal(planned(prep({ asked: asked("leaf") })), "leaf");
  assert.equal(planned(prep({ asked: asked("leaf", "looked") })), "dry");
  assert.equal(planned(prep({ state: "damp", asked: asked("leaf", "held") })), "damp");
});

Deno.test("better than damp needs the driver's own look", () => {
  assert.deepEqual([...reasonsFor(base, 0)], ["looked"]);
  assert.deepEqual([...reasonsFor(base, 2)], ["looked", "held", "changed"]);
  for (const reason of ["held", "changed", "something"]) {
    assert.equal(planned(prep({ asked: asked("damp", reason) })), "damp", reason);
  }
});

Deno.test("no proposal makes the driver's own choice milder", () => {
  for (const [own] of states.entries()) {
    for (const state of ["dry", "wet", "damp", "leaf", "very-low", "no such state"]) {
      for (const reason of [null, "looked", "held", "changed"]) {
        const one = prep({ state: states[own].key });
        const alone = plannedState(base, one, NOW)?.index ?? -1;
        const index = plannedState(base, { ...one, asked: asked(state, reason) }, NOW)?.index ?? -1;
        assert.ok(index >= alone, `${states[own].key} ${state} ${reason}`);
      }
    }
  }
});

Deno.test("what was said for a better state ends with the trip, and grows old with the choice", () => {
  const better = prep({ asked: asked("damp", "looked") });
  assert.equal(planned(forAnotherRun(better)), "damp");
  assert.equal(planned({ ...better, stateAt: NOW - 4 * HOUR }), "leaf", "one worse than proposed, as for any old choice");
});

Deno.test("answers that are old are not mixed with new ones, and what they proposed stands until all are given", () => {
  const two = { ...base, proposals: { ...base.proposals, questions: [...base.proposals.questions, { key: "dew", answers: ["no"] }] } };
  const first = withAnswer(two, prep(), { key: "rain", answer: "light", when: at(7), now: NOW });
  assert.equal(first.asked?.state, null);
  const both = withAnswer(two, first, { key: "dew", answer: "no", when: at(7), now: NOW });
  assert.equal(both.asked?.state, "leaf");
  const later = withAnswer(two, both, { key: "dew", answer: "no", when: at(12), now: NOW + 4 * HOUR });
  assert.deepEqual([later.asked?.answers, later.asked?.state], [{ dew: "no" }, "leaf"]);
});

Deno.test("another proposal asks again why a better state is taken", () => {
  const better = prep({ asked: asked("damp", "looked") });
  const worse = withAnswer(base, better, { key: "rain", answer: "light", when: at(7), now: NOW });
  assert.deepEqual([worse.asked?.state, worse.asked?.reason], ["leaf", null]);
  const same = withAnswer(base, better, { key: "rain", answer: "light", when: at(12), now: NOW });
  assert.equal(same.asked?.reason, "looked");
});

Deno.test("every question, answer and reason has its words in both languages", () => {
  const known = JSON.parse(Deno.readTextFileSync(new URL("./proposal_codes.json", import.meta.url)));
  for (const { weather } of [en, de]) {
    for (const { key, answers } of known.questions) {
      assert.ok(weather.questionWords[key], key);
      for (const answer of answers) assert.ok(weather.answerWords[`${key}-${answer}`], `${key}-${answer}`);
    }
    for (const code of known.why) assert.ok(weather.whyWords[code], code);
  }
});
