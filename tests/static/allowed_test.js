import assert from "node:assert/strict";
import { mayGlance, mayMark } from "../../static/core/allowed.js";
import { answersIn, answerWords } from "../../static/core/report-answers.js";
import { words } from "../../static/words/en.js";

const settings = (on, approver, mark_here) => /** @type {any} */ ({ moving_glance: { on, approver }, mark_here });

Deno.test("a glance while moving needs the company's yes and a named approver", () => {
  assert.equal(mayGlance(settings(true, "Standards manager")), true);
  for (const none of [null, "", "  ", undefined]) assert.equal(mayGlance(settings(true, none)), false);
  assert.equal(mayGlance(settings(false, "Standards manager")), false);
  assert.equal(mayGlance(undefined), false);
});

Deno.test("marking is off unless the company says so, and never beside a card that may be read", () => {
  assert.equal(mayMark(settings(false, null, true)), true);
  assert.equal(mayMark(settings(false, null, false)), false);
  assert.equal(mayMark(settings(false, null, undefined)), false);
  assert.equal(mayMark(settings(true, "Standards manager", true)), false);
  assert.equal(mayMark(undefined), false);
});

const answer = (body, more = {}) => ({ status: 200, type: "application/json", text: JSON.stringify(body), retryAfter: null, ours: true, ...more });
const AT = "2026-11-25T07:00:00Z";

Deno.test("answers are taken from the depot alone, and what is not understood is not shown", () => {
  const good = { report: "a", kind: "warned", trains: 6, at: AT };
  const read = { report: "b", kind: "reviewed", trains: null, at: AT };
  const strange = [{ report: "c", kind: "praised", trains: 1, at: AT }, { report: "d", kind: "warned", trains: null, at: AT },
    { report: "e", kind: "reviewed", trains: null, at: "soon" }, null];
  assert.deepEqual(Object.keys(answersIn(answer({ items: [good, read, ...strange] })) ?? {}), ["a", "b"]);
  for (const no of [answer({ items: [good] }, { ours: false }), answer({ items: [good] }, { status: 304 }),
    answer({ items: [good] }, { status: 401 }), answer({}), { ...answer({}), text: "<html>" }]) {
    assert.equal(answersIn(no), null);
  }
});

Deno.test("an answer says what the depot did, and nothing of the driver", () => {
  assert.equal(answerWords({ kind: "warned", trains: 6, at: AT }, words), "Depot: warned 6 trains.");
  assert.equal(answerWords({ kind: "warned", trains: 1, at: AT }, words), "Depot: warned 1 train.");
  assert.equal(answerWords({ kind: "reviewed", trains: null, at: AT }, words), "Depot: reviewed.");
  assert.equal(answerWords(undefined, words), null);
});
