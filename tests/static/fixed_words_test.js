/** W1 to W10 as the company signed them, in the tablet's language; else the app's own. */
import assert from "node:assert/strict";
import { allSigned, layOver, signedWords } from "../../static/core/fixed-words.js";
import { words as de } from "../../static/words/de.js";
import { words as en } from "../../static/words/en.js";

const SIGNED = {
  W1: "Platform stop only. Signals come first.", W4: "Slide: hold. Not slowing: EMERGENCY, hold to a stand.", W5: "Warnings held {time}. Newer: control.",
  W6: "No advice. Drive to the conditions.", W7: "Saved here. Control does not know. Call.", W8: "Before moving: signal, doors.",
  W9: "State {hours} h old: planned as {state}.", W10: "Do not release doors. Do not move.",
};
const copy = (own) => ({ ...own, language: { ...own.language }, frame: { ...own.frame }, card: { ...own.card },
  warnings: { ...own.warnings }, report: { ...own.report }, slide: { ...own.slide } });
const shown = ({ frame, card, warnings, report, slide }) =>
  [frame.w1, slide.w4, warnings.w5("05:12"), card.w6, report.w7, frame.w8, frame.w9("3", "damp"), report.w10];
const laid = (own, base) => {
  const words = copy(own);
  layOver(words, own, base);
  return words;
};

Deno.test("every fixed sentence is the pack's, with time and state put in", () => {
  assert.deepEqual(shown(laid(en, { words: {}, signed_words: { en: SIGNED } })), [
    SIGNED.W1, SIGNED.W4, "Warnings held 05:12. Newer: control.", SIGNED.W6, SIGNED.W7, SIGNED.W8, "State 3 h old: planned as damp.", SIGNED.W10,
  ]);
});

Deno.test("each language has its own; what is not signed stays the app's, and says so", () => {
  const base = { words: {}, signed_words: { de: { W6: "Kein Rat. Nach Sicht fahren." } } };
  assert.equal(laid(de, base).card.w6, "Kein Rat. Nach Sicht fahren.");
  assert.equal(laid(de, base).frame.w1, de.frame.w1);
  assert.notEqual(laid(de, base).language.unsigned, "");
  assert.deepEqual(shown(laid(en, base)), shown(en));
  const whole = { words: {}, signed_words: { de: SIGNED } };
  assert.ok(allSigned(whole, "de") && !allSigned(whole, "en"));
  assert.equal(laid(de, whole).language.unsigned, "");
});

Deno.test("another pack, or none: nothing of the former one stays", () => {
  const words = copy(en);
  layOver(words, en, { words: {}, signed_words: { en: SIGNED } });
  layOver(words, en, null);
  assert.deepEqual(shown(words), shown(en));
});

Deno.test("an older pack's English words count, in English alone; a broken set is not taken", () => {
  const older = { words: { ...SIGNED, W2: "x", W3: "y" } };
  assert.equal(laid(en, older).card.w6, SIGNED.W6);
  assert.deepEqual(shown(laid(de, older)), shown(de));
  for (const broken of [{ W5: "no time" }, { W9: "{hours}" }, { W6: "" }, { W6: 7 }, { W6: "x".repeat(161) }]) {
    assert.deepEqual(signedWords({ words: { ...SIGNED, ...broken } }, "en"), {}, JSON.stringify(broken));
  }
  assert.equal(laid(en, { words: SIGNED }).warnings.w5("$& 05:12"), "Warnings held $& 05:12. Newer: control.");
});
