/** The sentence for control says what it leaves out. */
import assert from "node:assert/strict";
import { controlWords } from "../../static/core/say.js";
import { NO_STOP, OK } from "../../static/core/table.js";
import { words } from "../../static/words/en.js";

const figure = { kind: "call", advice: { status: OK, seconds: 90 } };
const none = { kind: "call", advice: { status: NO_STOP, seconds: null } };
/** @param {unknown[]} rows @param {object} [more] */
function told(rows, more = {}) {
  const view = { rows, train: { cars: 4 }, trip: { name: "07:12" }, stateName: "Leaf film", off: null, withdrawn: null, ...more };
  return controlWords(/** @type {any} */ (view), words);
}

Deno.test("a stop without a figure is not hidden in the sum", () => {
  assert.equal(told([figure, figure]), "07:12, 4 cars: planned rail leaf film, allow 3 min more for the whole trip.");
  assert.match(told([figure, none]) ?? "", /allow 2 min more .* 1 stop without a figure: not counted\.$/);
});

Deno.test("where nothing has a figure control is told nothing", () => {
  assert.equal(told([none, none]), null);
  assert.equal(told([figure], { off: "diversion" }), null);
  assert.equal(told([figure], { withdrawn: "wrong marks" }), null);
  assert.equal(told([figure], { train: null }), null);
});
