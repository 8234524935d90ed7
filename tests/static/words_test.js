import assert from "node:assert/strict";
import { words } from "../../static/words/en.js";

const ROOT = new URL("../../static/", import.meta.url);

/** Text of every module but the catalogue itself. */
function code(folder = ROOT) {
  return [...Deno.readDirSync(folder)].flatMap((entry) => {
    const url = new URL(entry.name + (entry.isDirectory ? "/" : ""), folder);
    if (entry.isDirectory) return entry.name === "words" ? [] : code(url);
    return entry.name.endsWith(".js") ? [Deno.readTextFileSync(url)] : [];
  });
}

/** Names in the catalogue whose use can be seen by name; lists of choices are looked up by value. */
function names(part, path = []) {
  return Object.entries(part).flatMap(([key, value]) => {
    if (value !== null && typeof value === "object") {
      return /Words$|Help$|^contact$|^reasons$|^lights$|^nav$/.test(key) ? [[...path, key]] : names(value, [...path, key]);
    }
    return [[...path, key]];
  });
}

Deno.test("every word in the catalogue is shown somewhere", () => {
  const all = code().join("\n");
  const unused = names(words).filter((path) => !new RegExp(`\\.${path.at(-1)}\\b`).test(all));
  assert.deepEqual(unused, []);
});

Deno.test("words of the moving page hold none of the forbidden ones but the fixed sentence", () => {
  const never = /\b(safe|clear|ok|covered|enough|permitted|risk|late|minutes|seconds|per cent|green|red)\b/i;
  const { waits, ...mark } = words.mark; // said at the next stand
  const moving = { frame: words.frame, card: words.card, mark };
  const said = names(moving)
    .map((path) => path.reduce((part, key) => part[key], moving))
    .flatMap((value) => (value !== null && typeof value === "object" ? Object.values(value) : [value]))
    .map((value) => (typeof value === "function" ? String(value("1", "damp")) : String(value)))
    .filter((text) => text !== "No speed is enough here. Special working: ask the signaller.");
  assert.ok(said.length > 15);
  assert.deepEqual(said.filter((text) => never.test(text)), []);
});
