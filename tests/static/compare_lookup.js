// Compare the browser's look-up with answers worked out in Python: compare_lookup.js FILE
import assert from "node:assert/strict";
import { lookUp } from "../../static/core/table.js";

const { base, table, queries } = JSON.parse(Deno.readTextFileSync(Deno.args[0]));
for (const { ask, answer } of queries) {
  assert.deepEqual(lookUp(base, table, ask), answer, JSON.stringify(ask));
}
console.log(`${queries.length} equal`);
