// Compare what the tablet makes of restrictions with answers worked out in Python: FILE
import assert from "node:assert/strict";
import { lowered, tripRestrictions } from "../../static/core/restrictions.js";
import { lookUp } from "../../static/core/table.js";

const { base, table, now, cases } = JSON.parse(Deno.readTextFileSync(Deno.args[0]));
const reading = { now, offset: 0, kept: 0, heard: now };
for (const { cell, items, answer } of cases) {
  const { direction } = base.targets[cell.target];
  const live = tripRestrictions(base, direction, items, reading);
  const { advice, by } = lowered(base, table, cell, lookUp(base, table, { ...cell, speed: 30 }), live);
  assert.deepEqual({ advice, by }, answer, JSON.stringify({ cell, items }));
}
console.log(`${cases.length} equal`);
