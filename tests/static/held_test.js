import assert from "node:assert/strict";
import { depotPart, heldText } from "../../static/core/held.js";

const answer = (status, text, ours = true) => ({ status, text, ours, type: "", retryAfter: null });

Deno.test("only the depot's own whole answer counts as what the depot holds", () => {
  const whole = JSON.stringify({ report: { server_no: 7 } });
  assert.equal(depotPart(answer(200, whole)).told, "both");
  assert.equal(depotPart(answer(200, whole)).depot.report.server_no, 7);
  for (const bad of [null, answer(200, whole, false), answer(200, whole.slice(0, 9)), answer(200, "{}"), answer(503, whole)]) {
    assert.deepEqual(depotPart(bad), { told: "silent", depot: null });
  }
  assert.equal(depotPart(answer(401, "{}")).told, "enrol");
  assert.equal(depotPart(answer(404, "{}")).told, "none");
  assert.equal(depotPart(answer(404, "{}", false)).told, "silent", "a portal's 404 says nothing");
});

Deno.test("the copy holds the row as it lies here, and says whether the depot was asked", () => {
  const row = { id: "a", seq: 3, savedAt: 5, item: { kind: "report", body: { text: "long skid" } }, tries: 2 };
  const all = JSON.parse(heldText(row, undefined, { told: "silent", depot: null }, Date.UTC(2026, 10, 27)));
  assert.deepEqual(all.tablet, { ...row, answer: null });
  assert.equal(all.depot_asked, "silent");
  assert.equal(all.depot, null);
});
