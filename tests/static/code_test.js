/** A code from the desk names the depot that made it. */
import assert from "node:assert/strict";
import { namesKey, nameOf } from "../../static/core/code.js";

const KEY = "d75a980182b10ab7d54bfed3c964073a0ee172f3daa62325af021a68f707511a";
const OTHER = "e75a980182b10ab7d54bfed3c964073a0ee172f3daa62325af021a68f707511a";

Deno.test("a code names one key, however it is typed", () => {
  const name = nameOf(KEY);
  assert.match(name, /^[A-HJKMNP-Z2-9]{8}$/);
  assert(namesKey(`ABCDEFGH${name}`, KEY));
  assert(namesKey(`abcd-efgh-${name.toLowerCase().slice(0, 4)} ${name.slice(4)}`, KEY));
  assert(!namesKey(`ABCDEFGH${name}`, OTHER));
  assert(!namesKey(`ABCDEFGH${name.slice(0, 7)}`, KEY));
});

Deno.test("a code without a name is left to the depot", () => {
  assert(namesKey("ABCD-EFGH", KEY));
});

Deno.test("the name of a key is the one that Python writes", () => {
  // tests/webapp/tablets/test_sheet.py holds the same pair.
  assert.equal(nameOf("0".repeat(64)), "AAAAAAAA");
  assert.equal(nameOf(KEY), "EFWEUBAE");
});
