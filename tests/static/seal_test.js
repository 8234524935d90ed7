/** Seals: the bytes under the hash, and what is in one. */
import assert from "node:assert/strict";
import { canonical, sealed } from "../../static/core/seal.js";

// RFC 8785 (JSON Canonicalization Scheme), 3.2.2: the sample object; 3.2.3: its canonical text.
Deno.test("the example of RFC 8785, section 3.2.2", () => {
  const sample = String.raw`{"numbers": [333333333.33333329, 1E30, 4.50, 2e-3, 0.000000000000000000000000001],
    "string": "\u20ac$\u000F\u000aA'\u0042\u0022\u005c\\\"\/", "literals": [null, true, false]}`;
  const want = String.raw`{"literals":[null,true,false],"numbers":[333333333.3333333,1e+30,4.5,0.002,1e-27],"string":"€$\u000f\nA'B\"\\\\\"/"}`;
  assert.equal(canonical(JSON.parse(sample)), want);
});

// RFC 8785, 3.2.3: keys are sorted by UTF-16 units, so the emoji comes before U+FB33.
Deno.test("the sorting example of RFC 8785, section 3.2.3", () => {
  const sample = JSON.parse(String.raw`{"\u20ac": "Euro Sign", "\r": "Carriage Return",
    "\ufb33": "Hebrew Letter Dalet With Dagesh", "1": "One", "\ud83d\ude00": "Emoji: Grinning Face",
    "\u0080": "Control", "\u00f6": "Latin Small Letter O With Diaeresis"}`);
  const names = [...canonical(sample).matchAll(/:"([^"]+)"/g)].map((one) => one[1]);
  assert.deepEqual(names, ["Carriage Return", "One", "Control", "Latin Small Letter O With Diaeresis",
    "Euro Sign", "Emoji: Grinning Face", "Hebrew Letter Dalet With Dagesh"]);
});

Deno.test("no name and no free words of a report are sealed, only its id", () => {
  const item = { kind: "report", id: "r1", body: { driver_name: "Quillon Abernathy", text: "long skid" } };
  const state = {
    view: null, pack: null, prep: null, clockOffset: -2600, rows: [{ id: "r1", item }, { id: "c", item: { kind: "counts" } }],
    warnings: { rows: [{ id: "b", rev: 2, told_by: "Abernathy" }, { id: "a", rev: 1 }, { id: "x" }] },
    restrictions: { rows: [{ id: "n", rev: 3, reference: "notice 7" }] },
  };
  const body = sealed(state, ["A", " "], "build", 0);
  assert.doesNotMatch(canonical(body), /Abernathy|skid|notice/);
  assert.deepEqual(body, {
    sealed_at: "1970-01-01T00:00:00.000Z", app_build: "build", route: null, pack: null,
    warnings: [{ id: "a", rev: 1 }, { id: "b", rev: 2 }], restrictions: [{ id: "n", rev: 3 }], card: ["A"], preparation: {}, clock_offset_s: -3, unsent: ["r1"],
  });
});
