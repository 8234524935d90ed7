/** What was delivered is offered again to a depot that may lack it, and goes in its time. */
import assert from "node:assert/strict";
import { depotOf, keptDays, mayLack, offeredOf, outdated, rowAgain } from "../../static/core/again.js";
import { sortResults } from "../../static/core/answer.js";
import { unsentFile } from "../../static/core/unsent.js";
import { report } from "./outbox_world.js";

const at = (day) => `2026-11-${String(day).padStart(2, "0")}T06:00:00Z`;
const receipt = (n, day = 20, more = {}) => {
  const { id, seq, savedAt, item } = report(n);
  return { id, seq, savedAt, item, serverNo: 100 + n, receivedAt: at(day), ...more };
};
const aside = (n) => receipt(n, 1, { putAside: { at: 0, code: "invalid", reason: "" } });

Deno.test("a depot that may lack something is known by its epoch, or by its highest number", () => {
  const held = [receipt(1), receipt(2)];
  assert.equal(mayLack({ epoch: "a" }, { epoch: "b", highest: 900 }, held), true);
  assert.equal(mayLack({ epoch: "a" }, { epoch: "a", highest: 102 }, held), false);
  assert.equal(mayLack({ epoch: "a" }, { epoch: "a", highest: 101 }, held), true);
  // Delivered before it said which history that was: other tablets' reports may stand above.
  assert.equal(mayLack(null, { epoch: "a", highest: 102 }, held), true);
  assert.equal(mayLack(null, { epoch: "a", highest: 102 }, [aside(4)]), false);
  assert.equal(mayLack(null, { epoch: "a", highest: 1 }, held), true);
  // Offered once to what it says now, not at every contact.
  assert.equal(mayLack({ epoch: "a", asked: "a 101" }, { epoch: "a", highest: 101 }, held), false);
  // Seals have numbers of their own, and what it never had tells nothing.
  const seal = receipt(3);
  assert.equal(mayLack({ epoch: "a" }, { epoch: "a", highest: 0 }, [{ ...seal, item: { ...seal.item, kind: "seal" } }, aside(4)]), false);
});

Deno.test("what an older depot answers, or a depot to a stranger, says nothing", () => {
  for (const body of [null, {}, { depot: null }, { depot: { epoch: 5, highest: 1 } }, { depot: { epoch: "a" } }]) {
    assert.equal(depotOf(body), null);
  }
  assert.deepEqual(depotOf({ depot: { epoch: "a", highest: 7, more: 1 } }), { epoch: "a", highest: 7 });
});

Deno.test("a receipt offered again is a frozen row with its old number beside it", () => {
  const row = rowAgain(receipt(1));
  assert.deepEqual([row.tries, row.parked, row.offered?.serverNo], [1, null, 101]);
  assert.deepEqual(offeredOf([row, report(2)]), { offered: [{ id: row.id, server_no: 101 }] });
  assert.deepEqual(offeredOf([report(2)]), {});
});

Deno.test("what was removed on request goes here as well", () => {
  const row = report(1);
  const { acks, parks, left } = sortResults([row], [{ id: row.id, result: "removed" }]);
  assert.deepEqual([acks, parks, left], [[{ id: row.id, serverNo: null, receivedAt: "", removed: true }], [], 0]);
});

Deno.test("receipts go by the depot's clock after the days that it signed; what was put aside stays", () => {
  const all = [receipt(1, 1), receipt(2, 10), receipt(3, 20), aside(4)];
  const names = (days, now) => outdated(all, days, now).map(({ seq }) => seq);
  assert.deepEqual(names(35, null), []);
  assert.deepEqual(names(12, null), [1]);
  assert.deepEqual(names(12, Date.parse(at(30))), [1, 2]);
  assert.deepEqual(names(1, Date.parse(at(20))), [1, 2]);
});

Deno.test("how long stands in the signed index; without it 35 days", () => {
  assert.equal(keptDays('{"tablet": {"keep_days": 60}}'), 60);
  for (const text of [undefined, "{", "{}", '{"tablet": {"keep_days": -1}}', '{"tablet": {"keep_days": "9"}}']) {
    assert.equal(keptDays(text), 35);
  }
});

Deno.test("the exported file holds what the depot has as well, with its numbers", () => {
  const file = unsentFile([report(3)], [receipt(1), aside(2)], { installId: "i", build: "b", now: 0 });
  assert.deepEqual(file.batch.items.map(({ seq }) => seq), [1, 2, 3]);
  assert.deepEqual(file.batch.offered, [{ id: report(1).id, server_no: 101 }]);
});
