// Compare what the tablet looks up with what Python looked up: FILE
import assert from "node:assert/strict";
import { proposed } from "../../static/core/proposal.js";

const { base, cases } = JSON.parse(Deno.readTextFileSync(Deno.args[0]));
for (const { answers, when, leafy, found } of cases) {
  const time = when && { month: when[0], hour: when[1] };
  assert.deepEqual(proposed(base, answers, time, leafy), found, JSON.stringify({ answers, when, leafy }));
}
console.log(`${cases.length} equal`);
