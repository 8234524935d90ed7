import assert from "node:assert/strict";
import { words as german } from "../../static/words/de.js";
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

/**
 * Stands in for whatever a sentence is given: a text, a number or an object with parts.
 * @param {string} mark
 */
function given(mark) {
  return new Proxy({}, {
    get: (_, part) => {
      if (part === Symbol.toPrimitive || part === "toString") return () => mark;
      if (typeof part === "string" && part in String.prototype) return String.prototype[part].bind(mark);
      return `${mark}.${String(part)}`;
    },
  });
}

/** What of the given things a sentence shows. */
function shown(value, most) {
  if (typeof value !== "function") return [];
  const text = String(value(...Array.from({ length: most }, (_, i) => given(`xq${i}`)))).toLowerCase();
  return [...new Set(text.match(/xq\d(\.\w+)?/g) ?? [])].toSorted();
}

/** @returns {[string, any][]} */
function leaves(part, path = "") {
  return Object.entries(part).flatMap(([key, value]) =>
    value !== null && typeof value === "object" ? leaves(value, `${path}.${key}`) : [[`${path}.${key}`, value]]);
}

Deno.test("both languages have the same sentences, and put the same things into them", () => {
  const [here, there] = [new Map(leaves(words)), new Map(leaves(german))];
  assert.deepEqual([...there.keys()].toSorted(), [...here.keys()].toSorted());
  let compared = 0;
  for (const [path, value] of here) {
    const most = typeof value === "function" ? value.length : 0;
    assert.deepEqual(shown(there.get(path), most), shown(value, most), path);
    compared += most;
  }
  assert.ok(compared > 60);
});

/** Literals of a module, without comments: text, and what stands before it on its line. */
function literals(source) {
  const token = /\/\*[\s\S]*?\*\/|\/\/[^\n]*|"((?:[^"\\\n]|\\.)*)"|`((?:[^`\\]|\\.)*)`/g;
  return [...source.matchAll(token)]
    .filter(([, text, template]) => (text ?? template) !== undefined)
    .map((found) => ({
      text: found[1] ?? found[2].replace(/\$\{[^}]*\}/g, "\u0000"),
      before: source.slice(source.lastIndexOf("\n", found.index) + 1, found.index),
    }));
}

/** Names for the machine, never seen: classes, selectors, attributes, faults for developers. */
function unseen({ text, before }) {
  return /(import|from|console\.\w+\(|Error\(|Refused\(|className:?|querySelector(All)?\(|closest\(|matches\(|\bel\(|class:|points:|style|Words\[|fault\(|fail\()[^;]*$/.test(before)
    || /^[\s\u0000]*$/.test(text);
}

/** A word as people write it: two letters or more with a space, or a capital at its start. */
function looksSpoken({ text }) {
  return /[a-z]{2,}[,.:;]? [a-z]{2,}/i.test(text) || /^[A-Z][a-z]{2,}/.test(text) || /\u0000 ?[a-z]{3,}|[a-z]{3,} \u0000/.test(text);
}

/** Read by machines: headers, names of faults and keys, values of a report, units of time. */
const MACHINE = new Set([
  "Content-Type", "Retry-After", "Enter",
  "(prefers-color-scheme: dark)", "(display-mode: standalone), (display-mode: fullscreen)",
  "slip at start", "stopped short", "dull railhead", "first rain", "off line",
  "seen \u0000", "call \u0000", "extra \u0000",
  "transaction aborted", "storage does not answer", "storage does not open",
  "\u0000 min", "\u0000 min \u0000 s",
]);

Deno.test("no word to be read stands outside the catalogue", () => {
  const spoken = code().flatMap((source) => literals(source).filter((one) => !unseen(one)).filter(looksSpoken));
  const found = new Set(spoken.map(({ text }) => text).filter((text) => !/^\w+Error$/.test(text)));
  assert.deepEqual([...found].filter((text) => !MACHINE.has(text)), []);
  assert.deepEqual([...MACHINE].filter((text) => !found.has(text)), [], "no longer there");
  // The scan sees what it is meant to see.
  for (const [source, seen] of [['h("p", {}, "Hold the brake")', true], ["return `${n} days old`", true], ['return "level crossing"', true], ['h("p", { className: "note big" })', false]]) {
    assert.equal(literals(source).filter((one) => !unseen(one)).some(looksSpoken), seen, source);
  }
});
