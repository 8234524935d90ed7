/** A pack's own words in the language of the tablet. */
import assert from "node:assert/strict";
import { namedIn } from "../../static/core/names.js";

const base = (names_in) => ({
  route: { key: "kettle-bay", name: "Kettle Bay line" },
  states: [{ key: "damp", name: "Damp" }, { key: "constructor", name: "constructor" }],
  trains: [{ key: "emu-8", steps: ["step 1", "step 2"], usual_step: 1 }],
  trips: [{ key: "d1", name: "Damp", calls: [{ target: "Damp", note: "step 1" }, { target: "b", note: null }] }],
  gradients: [[0, 10, 0.01]],
  ...(names_in ? { names_in } : {}),
});
const DE = { Damp: "feucht", "step 1": "Stufe 1" };

Deno.test("what is shown is said in the tablet's language; keys and figures stay", () => {
  const of = base({ de: DE });
  const said = namedIn(of, "de");
  assert.deepEqual(said.states.map((one) => one.name), ["feucht", "constructor"]);
  assert.deepEqual(said.trains[0].steps, ["Stufe 1", "step 2"]);
  assert.deepEqual(said.trips[0].calls, [{ target: "Damp", note: "Stufe 1" }, { target: "b", note: null }]);
  assert.equal(said.trips[0].name, "feucht");
  assert.equal(said.gradients, of.gradients);
  assert.equal(of.states[0].name, "Damp", "the pack itself is not changed");
  assert.ok(!("signals" in said), "what a pack lacks is not made");
});

Deno.test("without names in the tablet's language the pack's own words stand", () => {
  for (const of of [base(), base({ de: DE })]) assert.equal(namedIn(of, "en"), of);
  assert.equal(base().states[0].name, namedIn(base(), "de").states[0].name);
});
