import assert from "node:assert/strict";
import { ageWords, lastTimeAt, whenWords } from "../../static/core/age.js";
import { clockOffset, clockState, rfc3339, seasonDay } from "../../static/core/clock.js";
import { de, en } from "../../static/words/figures.js";
import { adhesionWords, dialSpeed, durationWords, gradientWords, placeAlong, shortWords } from "../../static/core/format.js";
import { checkedManifest, expect, judgePing, shortOfRoom, toInstall, unneeded } from "../../static/core/sync.js";

const HOUR = 3600_000;

Deno.test("a place along the line is written as the depot writes it, in either language", () => {
  const { places } = JSON.parse(Deno.readTextFileSync(new URL("../golden/places.json", import.meta.url)));
  for (const { metres, unit, words, about } of places) {
    assert.equal(placeAlong(metres, unit, en), words);
    assert.equal(placeAlong(metres, unit, en, true), about);
    assert.equal(placeAlong(metres, unit, de), words.replace(".", ","));
  }
});

Deno.test("figures as the trade writes them", () => {
  assert.equal(durationWords(130), "2 min 10 s");
  assert.equal(durationWords(45), "45 s");
  assert.equal(gradientWords(-1 / 70, en), "1 in 70");
  assert.equal(gradientWords(0, en), "level");
  assert.equal(adhesionWords(0.03, de), "0,03");
  assert.deepEqual([0.03, 0.025, 0.1].map((one) => adhesionWords(one, en)), ["0.03", "0.025", "0.10"]);
});

Deno.test("a ceiling is rounded down to the dial, never to a stand", () => {
  assert.deepEqual([49, 50, 30, 9, 5, 4].map((speed) => dialSpeed(speed, 10)), [40, 50, 30, 5, 5, 4]);
  assert.deepEqual([19, 20, 9, 5, 3].map((speed) => dialSpeed(speed, 5)), [15, 20, 5, 5, 3]);
});

Deno.test("a distance short of a mark is in the line's own measure, never less than computed", () => {
  assert.equal(shortWords(75, "km", en), "75 m");
  assert.equal(shortWords(72, "km", en), "75 m");
  // 75 m = 82.02 yards (1 yard = 0.9144 m exactly: Weights and Measures Act 1985, from memory)
  assert.equal(shortWords(75, "mi-ch", en), "85 yards");
  assert.equal(shortWords(0.9144 * 25 - 1e-9, "mi-ch", en), "25 yards");
});

Deno.test("age is worked out from the stored time, also after a long sleep", () => {
  const then = Date.parse("2026-11-25T05:12:00Z");
  assert.equal(ageWords(then, then + 30_000, en), "just now");
  assert.equal(ageWords(then, then + 2 * HOUR, en), "2 h 0 min old");
  assert.equal(ageWords(then, then + 72 * HOUR, en), "3 days old");
  assert.equal(ageWords(then, then - HOUR, en), "", "the clock went back: nobody knows");
  assert.equal(ageWords(null, then, en), "");
  assert.equal(whenWords(then, then + HOUR), "05:12");
  assert.equal(whenWords(then, then + 48 * HOUR), "2026-11-25 05:12");
});

Deno.test("a time typed in is the last one that fits, not one to come", () => {
  const now = Date.parse("2026-11-25T00:10:00Z");
  assert.equal(rfc3339(lastTimeAt("00:05", now)), "2026-11-25T00:05:00.000Z");
  assert.equal(rfc3339(lastTimeAt("23:50", now)), "2026-11-24T23:50:00.000Z");
});

Deno.test("a time typed in the night the clocks change is the last that the clock showed", () => {
  const at = (typed, now) => rfc3339(lastTimeAt(typed, Date.parse(now))).slice(0, 16);
  // 01:50 for the second time: 01:40 is ten minutes ago, 00:50 an hour more than it looks.
  assert.equal(at("01:40", "2026-10-25T01:50:00Z"), "2026-10-25T01:40");
  assert.equal(at("00:50", "2026-10-25T01:50:00Z"), "2026-10-24T23:50");
  // 01:50 for the first time, and 01:10 for the second: 01:40 was in the first hour.
  assert.equal(at("01:40", "2026-10-25T00:50:00Z"), "2026-10-25T00:40");
  assert.equal(at("01:40", "2026-10-25T01:10:00Z"), "2026-10-25T00:40");
  assert.equal(at("01:40", "2026-10-25T05:00:00Z"), "2026-10-25T01:40");
  assert.equal(at("23:30", "2026-10-25T01:50:00Z"), "2026-10-24T22:30");
  assert.equal(at("02:30", "2026-10-25T01:50:00Z"), "2026-10-24T01:30");
  // No clock showed 01:30 that morning but one that was not put forward yet.
  assert.equal(at("01:30", "2026-03-29T03:00:00Z"), "2026-03-29T01:30");
  assert.equal(at("04:30", "2026-03-29T05:00:00Z"), "2026-03-29T03:30");
  assert.equal(at("04:30", "2026-03-29T03:00:00Z"), "2026-03-28T04:30");
});

Deno.test("the tablet's clock is wrong only by more than two minutes", () => {
  const sent = Date.parse("2026-11-25T06:00:00Z");
  assert.equal(clockOffset(sent, sent + 200, "2026-11-25T06:00:00.100+00:00"), 0);
  assert.equal(clockOffset(sent, sent, "nonsense"), null);
  assert.equal(clockState(119_000, en).wrong, false);
  assert.equal(clockState(null, en).wrong, false);
  assert.deepEqual(clockState(HOUR, en), { wrong: true, by: "60 min", slow: true, either: false });
  assert.deepEqual(clockState(-8 * 24 * HOUR, en), { wrong: true, by: "8 days", slow: false, either: true });
});

const answer = (status, body, type = "application/json") => ({
  status, type, text: typeof body === "string" ? body : JSON.stringify(body), retryAfter: null,
});

Deno.test("a wrong clock does not end the leaf season early", () => {
  const day = 24 * 3600_000;
  const now = Date.parse("2026-12-20T12:00:00Z");
  assert.equal(seasonDay(now, null, now - day), "2026-12-20");
  assert.equal(seasonDay(now, -25 * day, now - day), "2026-11-25", "the depot's clock counts");
  assert.equal(seasonDay(now - 200 * day, null, now), null, "set back since the pack came");
});

Deno.test("online means that the depot repeated the word it was given", () => {
  assert.equal(judgePing(answer(200, { n: "x", server_time: "2026-11-25T06:00:00Z" }), "x").contact, "online");
  for (const other of [
    answer(200, { n: "y" }),
    answer(200, "<html>", "text/html"),
    answer(200, '{"n": "x"'),
    answer(302, "", ""),
    answer(404, { code: "x", n: "x" }),
  ]) {
    assert.equal(judgePing(other, "x").contact, "portal");
  }
  assert.equal(judgePing(answer(502, "<html>", "text/html"), "x").contact, "fault");
});

Deno.test("what is here and opens is not fetched again", () => {
  const route = { key: "one", name: "One", pack: "a".repeat(64), bytes: 9, gz_bytes: 3 };
  const current = { sha: route.pack };
  assert.deepEqual(toInstall([route], { one: { current } }), []);
  assert.deepEqual(toInstall([route], { one: { current, damaged: true } }), [route]);
  assert.deepEqual(toInstall([route], { one: { current: { sha: "b".repeat(64) } } }), [route]);
  assert.deepEqual(toInstall([route], {}), [route]);
});

Deno.test("R18: below three times the largest pack the tablet says so", () => {
  const route = (/** @type {number} */ bytes) => ({ key: "x", name: "X", pack: "a", bytes, gz_bytes: 1 });
  const routes = [route(2_000_000), route(4_500_000)];
  assert.equal(shortOfRoom({ quota: 20_000_000, usage: 6_500_000 }, routes), null);
  assert.deepEqual(shortOfRoom({ quota: 20_000_000, usage: 6_500_001 }, routes), { freeMb: 13, packMb: 5 });
  assert.deepEqual(shortOfRoom({ quota: 5, usage: 9 }, routes), { freeMb: 0, packMb: 5 });
  assert.equal(shortOfRoom({}, routes), null, "a browser that does not say");
  assert.equal(shortOfRoom({ quota: 5, usage: 5 }, []), null);
});

Deno.test("an unknown version is refused, an unknown field is not", () => {
  const files = ["base", "table"].map((kind) => ({ kind, sha256: "b".repeat(64) }));
  const manifest = { format: "step-in-hand/manifest", version: 1, files, more: "yes" };
  assert.equal(checkedManifest(manifest), manifest);
  assert.throws(() => checkedManifest({ ...manifest, version: 2 }), /version 2 is unknown/);
  assert.throws(() => checkedManifest({ ...manifest, files: files.slice(1) }), /no base/);
  assert.throws(() => expect("<html>", "step-in-hand/base"), /expected/);
});

Deno.test("files of the pack before are not thrown away", () => {
  const kept = [{ sha: "m1", files: [{ sha256: "f1" }] }, { sha: "m0", files: [{ sha256: "f0" }] }];
  assert.deepEqual(unneeded(["m1", "f1", "m0", "f0", "old"], kept), ["old"]);
});
