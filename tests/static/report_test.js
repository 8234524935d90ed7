import assert from "node:assert/strict";
import { bodyOf, correctionOf, newDraft, sayWords, stepNames, tellOrDecide } from "../../static/core/report.js";
import { words } from "../../static/words/en.js";

const NOW = Date.parse("2026-11-25T07:42:00Z");
const base = {
  route: { name: "Kettle Bay line", distance_unit: "mi-ch" },
  directions: [{ key: "down", name: "Down, away from Kettle Bay" }],
  trains: [
    { key: "electric-3", steps: ["B1", "B2", "B3"] },
    { key: "seven", steps: ["1", "2", "3", "4", "5", "6", "7"] },
  ],
  targets: [{ key: "harrowmere/down", name: "Harrowmere", platform: "1", direction: "down" }],
};
const draft = (more = {}) => ({
  ...newDraft({ view: null, at: null, position: null, route: "kettle-bay" }, NOW),
  direction: "down", target: "harrowmere/down", placed: "driver", ...more,
});

Deno.test("the words to say are built from what is filled in", () => {
  const full = draft({ found: "reportable", happened: ["slide"], step: "2", weather: "drizzle" });
  assert.equal(
    sayWords(full, base, "07:12", words),
    "Driver of 07:12; rail worse than expected; Kettle Bay line, Down; Harrowmere, platform 1; 07:42; slide in step 2; drizzle.",
  );
  assert.equal(sayWords(draft({ target: null }), null, "", words), "place not given; 07:42.");
});

Deno.test("before position or driver has said where, the words leave it to be said and name no stop", () => {
  const fresh = newDraft({ view: { calls: [{ target: { key: "harrowmere/down" } }], base: { states: [{}] }, state: 0, pack: {}, direction: {} }, at: 3, position: null, route: "kettle-bay" }, NOW);
  assert.deepEqual([fresh.target, fresh.place, fresh.placed], [null, "", null]);
  assert.match(sayWords({ ...fresh, direction: "down", found: "good" }, base, "", words), /Down; \(say where\); 07:42/);
});

Deno.test("a figure of where it was needs a good receiver, and is given once", () => {
  const said = (accuracy_m, more = {}) => sayWords(draft({ at_m: 30_200, position: { lat: 0, lon: 0, accuracy_m, age_s: 1 }, ...more }), base, "", words);
  assert.match(said(15), /Harrowmere, platform 1, 18 mi 61 ch/);
  assert.match(said(16), /Harrowmere, platform 1; /);
  assert.match(said(8, { place: "between A and B, 160 yards before B platform" }), /B platform; /);
});

Deno.test("a step has the name that stands on the brake controller, and a number where the train is not known", () => {
  const said = (train) => sayWords(draft({ happened: ["slide"], step: "2", train }), base, "", words);
  assert.match(said("electric-3"), /slide in B2\./);
  assert.match(said(null), /slide in step 2\./);
  assert.match(said("seven"), /slide in step 2\./);
  assert.deepEqual(Object.values(stepNames(base, draft({ train: "electric-3" }), words)), ["B1", "B2", "B3", "emergency"]);
});

Deno.test("the driver is told to tell, or decides; there is no third answer", () => {
  assert.equal(tellOrDecide(draft({ found: "reportable" })), "tell");
  assert.equal(tellOrDecide(draft({ found: "good", happened: ["overrun"] })), "tell");
  for (const found of ["good", "expected", null]) assert.equal(tellOrDecide(draft({ found })), "decide");
  const said = JSON.stringify(words, (_key, value) => (typeof value === "function" ? String(value) : value));
  assert.doesNotMatch(said, /need not|not necessary|no need/i);
  assert.doesNotMatch(said, /any length|will be sent automatically|no warnings/i);
});

Deno.test("the fixed words are exact", () => {
  assert.equal(words.frame.w1, "Platform stop only. Signals first.");
  assert.equal(words.slide.w4, "Sliding: hold the brake. Not slowing as it should: EMERGENCY, hold to a stand.");
  assert.equal(words.card.w6, "No advice here. Drive to the conditions.");
  assert.equal(words.report.w7, "Saved on this tablet. The signaller does not know. Call now.");
  assert.equal(words.frame.w8, "Before you move: signal, doors.");
  assert.equal(words.frame.w9("3", "damp"), "Rail state 3 h old: planned as damp.");
  assert.equal(words.report.w10, "Don't release doors. Don't move. Signaller.");
  assert.equal(words.report.w10short, "Doors closed. Local instructions.");
  assert.equal(words.outbox.waiting(3), "3 reports not sent. Keep this app open where there is signal.");
  assert.equal(words.brief.cover("400", "0.03"), "By calculation, one patch of 400 m at 0.03. Two patches, or worse: not.");
});

Deno.test("a body has the fields of the contract, and unknown stays null", () => {
  const body = bodyOf(draft({ found: "good", happened: ["mist", "slide"], text: "x".repeat(3000), place: "  " }));
  assert.deepEqual(Object.keys(body).toSorted(), [
    "at_m", "direction", "driver_name", "flats_suspected", "found", "happened", "pack", "place", "position",
    "rail_state", "route", "sand_used", "step", "supersedes", "target", "text", "told_signaller_at", "train",
    "train_not_seen", "weather",
  ]);
  assert.deepEqual(body.happened, ["slide", "mist"]);
  assert.equal(body.text.length, 2000);
  for (const name of ["place", "step", "weather", "sand_used", "position", "told_signaller_at", "driver_name"]) {
    assert.equal(body[name], null, name);
  }
  assert.throws(() => bodyOf(draft()), /found/);
});

Deno.test("half an emoji, as the limit of a field cuts it, does not have the report refused", () => {
  const half = "\ud83d";
  const body = bodyOf(draft({
    found: "good", text: `${"x".repeat(1999)}🙂`, place: `wood${half}`, driver_name: `a\0${half}`,
  }));
  assert.deepEqual([body.text.length, body.place, body.driver_name], [1999, "wood", "a"]);
  assert.equal(bodyOf(draft({ found: "good", text: "leaves 🙂" })).text, "leaves 🙂");
});

Deno.test("a correction is a new report that names the old one", () => {
  const body = bodyOf(draft({ found: "good", toldAt: NOW }));
  const again = correctionOf(body, "old-id", "2026-11-25T07:42:00.000Z", NOW + 1000);
  assert.deepEqual({ ...bodyOf(again), supersedes: null }, body);
  assert.equal(bodyOf(again).supersedes, "old-id");
});
