import assert from "node:assert/strict";
import { isRoomSmall, isRoomSmallHere, roadParts, rowWords, runWords, specialRows, withoutStateInHand } from "../../static/core/road.js";
import { words as de } from "../../static/words/de.js";
import { words } from "../../static/words/en.js";

const train = { cars: 8, length_m: 160, steps: ["step 1", "step 2", "step 3"] };
const states = ["Dry", "Damp", "Leaf film", "Very low"].map((name, i) => ({ key: name, name, pickable: i < 3 }));
const base = {
  route: { distance_unit: "mi-ch" },
  directions: [{ key: "down", sign: 1 }],
  landmarks: [{ words: "10 post", at_m: 1000 }, { words: "9½ post", at_m: 500 }],
  listed: [{ key: "wood", name: "Wood", state: "Leaf film", from_m: 1000, to_m: 2000, reason: "broadleaf trees" }],
  states,
  trains: [train],
  trips: [],
};
const post = (index = 0, far = false) => ({ index, words: base.landmarks[index].words, far });
const worse = (more = {}) => ({ status: 0, mark: post(1), step: 0, flags: 0, speeds: [], ...more });
const marked = (more = {}) => ({ status: 0, brake: 900, mark: post(), step: 0, flags: 0, seconds: 40, speeds: [], worse: worse(), ...more });
const usual = (more = {}) => marked({ flags: 2, step: 1, ...more });
const NO_ADVICE = { status: 2, mark: null, step: null, flags: 0, seconds: null, speeds: [], worse: null };

/** A stop of the name "A", "B" and so on. */
const stop = (name, advice, more = {}) => ({
  kind: "call", targetIndex: 0, season: 1, state: 0, warned: null, lowered: [], advice,
  ...more,
  call: more.call === undefined ? { target: name, arrive: `06:0${name.charCodeAt(0) % 10}`, depart: null, note: "" } : more.call,
  target: { key: name, kind: "stop", name, direction: "down", platform: "1", listed: [], note: "", words: null, mark_m: [3000], ...more.target },
});
const board = (name, advice, more = {}) => ({ ...stop(name, advice, { ...more, call: null, target: { kind: "reduction", words: "40 by the board", platform: null } }), kind: "reduction" });
const view = (rows, more = {}) => {
  const calls = rows.filter((row) => row.kind === "call");
  return { base, train, state: 0, stateName: "Dry", rows, calls, trip: { calls: calls.map((row) => row.call ?? { target: row.target.key }) }, ...more };
};
const shape = (seen) => roadParts(seen).map((part) => ("rows" in part ? part.rows : [part]).map((row) => row.target.key).join(""));
const texts = (what) => [what.when, what.name, ...what.notes, ...what.lines.filter((line) => !line.more).map((line) => line.text)].filter(Boolean);
const said = (seen, at = 0, w = words) => texts(runWords(seen, roadParts(seen)[at], w));

Deno.test("plain stops that follow one another are one row, in few words", () => {
  const seen = view(["A", "B", "C"].map((name) => stop(name, marked())));
  assert.deepEqual(shape(seen), ["ABC"]);
  assert.deepEqual(said(seen), ["06:05", "A to C", "3 stops", "Brake marks, planned and worse; step 1."]);
  assert.deepEqual(said(seen, 0, de).slice(1), ["A bis C", "3 Halte", "Bremsmarken, geplant und schlechter; step 1."]);
  const dry = view(["A", "B"].map((name) => stop(name, usual())));
  assert.deepEqual(said(dry).slice(1), ["A to B", "2 stops", "Nothing added.", "Brake marks if worse."]);
});

Deno.test("one plain stop between special ones stays as it is, and so do boards alone", () => {
  const warned = { warned: { warning: { reason: "" }, certain: true, name: "Leaf film", when: "06:40", rank: 0 } };
  assert.deepEqual(shape(view([stop("A", marked()), stop("B", marked(), warned), stop("C", marked())])), ["A", "B", "C"]);
  assert.deepEqual(shape(view([board("A", marked()), board("B", marked())])), ["A", "B"]);
  assert.deepEqual(said(view([stop("A", marked()), board("B", marked())])).slice(1, 4), ["A", "1 stop", "1 board"]);
  const quiet = [...["A", "B"].map((name) => stop(name, marked())), board("C", usual())];
  assert.deepEqual(said(view(quiet)).slice(1), ["A to B", "2 stops", "Brake marks, planned and worse; step 1."], "nothing added, nothing said");
  assert.deepEqual(said(view([stop("A", marked()), board("C", usual({ worse: null }))])).slice(1), ["A", "platform 1", "Begin before 10 post, step 1", "If worse: before 9½ post"]);
});

Deno.test("where most stops are as usual, one with a brake mark stands open", () => {
  const rows = [..."ABCDE"].map((name) => stop(name, name === "C" ? marked() : usual()));
  assert.deepEqual(shape(view(rows)), ["AB", "C", "DE"]);
});

Deno.test("where most stops have a mark, a usual one is named", () => {
  const rows = [..."ABCDE"].map((name) => stop(name, name === "C" ? usual() : marked({ step: name === "A" ? 1 : 0 })));
  assert.deepEqual(said(view(rows)).slice(3), ["Brake marks, planned and worse; step 1, step 2.", "Nothing added: C."]);
});

Deno.test("on the rail nobody sets off on the run says at how many no speed is enough", () => {
  const none = { status: 1, mark: null, step: null, flags: 0 };
  const leaf = [..."ABC"].map((name) => stop(name, marked({ worse: worse(name === "B" ? none : name === "C" ? { ...none, status: 2 } : {}) }), { state: 2 }));
  assert.deepEqual(said(view(leaf, { state: 2 })).slice(4), ["If worse, at 1 of them: too slippery at any speed.", "If worse, at 1 of them: no advice."]);
  assert.deepEqual(shape(view(leaf.map((row) => ({ ...row, state: 1 })), { state: 1 })), ["A", "B", "C"], "that rail may be met");
  const all = [..."AB"].map((name) => stop(name, marked({ worse: worse(none) }), { state: 2 }));
  assert.deepEqual(said(view(all, { state: 2 })).slice(4), ["If worse: too slippery at any speed."]);
});

Deno.test("a stop that is passed or called at extra is not drawn over", () => {
  const rows = [..."ABCDE"].map((name) => stop(name, marked()));
  const seen = view(rows);
  const passed = { ...seen, rows: rows.filter((row) => row.target.key !== "C"), calls: rows.filter((row) => row.target.key !== "C") };
  assert.deepEqual(shape(passed), ["AB", "D", "E"]);
  const extra = { ...seen, trip: { calls: seen.trip.calls.filter((one) => one.target !== "C") } };
  assert.deepEqual(shape(extra), ["AB", "C", "DE"]);
});

Deno.test("speeds stand with the opened row, the line for a worse rail always; what is lowered is told", () => {
  const speeds = [{ words: "Mill Crossing", speed: 40 }];
  const shownOf = (row) => rowWords(view([row]), row, words).lines.map(({ text, more }) => (more ? `(${text})` : text));
  assert.deepEqual(shownOf(stop("A", marked({ speeds, worse: worse({ mark: post(0) }) }))),
    ["Begin before 10 post, step 1", "If worse: same place", "(Not above 40 mph by Mill Crossing)"]);
  assert.deepEqual(shownOf(stop("A", marked({ speeds }), { lowered: ["one"] })).slice(2), ["Not above 40 mph by Mill Crossing", "Lowered: your notice"]);
  assert.equal(shownOf(stop("A", marked({ speeds }), { target: { kind: "buffers" } }))[2], "Not above 40 mph by Mill Crossing");
});

/** What makes a stop special, each on its own. */
const SPECIAL = {
  buffers: { target: { kind: "buffers" } },
  "note of the platform": { target: { note: "2 yards short" } },
  "doors off": { doors: 4 },
  "note of the call": { call: { note: "wait for the connection" } },
  listed: { target: { listed: ["wood"] } },
  warned: { warned: { warning: { reason: "" }, certain: false, name: null, when: "06:40", rank: 0 } },
  "rail worsened": { state: 1 },
  restricted: { lowered: ["one"] },
  "WSP fault": { advice: NO_ADVICE, bar: { why: "wsp" } },
  "platform not as booked": { advice: NO_ADVICE, bar: { why: "platform" } },
  "advice off": { advice: NO_ADVICE, bar: { why: "off", reason: "line" } },
  "not computed": { advice: NO_ADVICE },
  "no speed is enough": { advice: { ...NO_ADVICE, status: 1 } },
  "no landmark": { advice: marked({ mark: null }) },
  "mark too far out": { advice: marked({ mark: post(0, true) }) },
  "worse: no speed is enough": { advice: marked({ worse: worse({ status: 1, mark: null }) }) },
  "worse: not computed": { advice: marked({ worse: worse({ status: 2, mark: null }) }) },
  "worse: no landmark": { advice: marked({ worse: worse({ mark: null }) }) },
  "worse: mark too far out": { advice: marked({ worse: worse({ mark: post(1, true) }) }) },
};

/** Numbers that look like chance and are the same every time (mulberry32). */
function chance(seed) {
  let a = seed;
  return (n) => {
    a = (a + 0x6d2b79f5) | 0;
    let t = Math.imul(a ^ (a >>> 15), 1 | a);
    t = (t + Math.imul(t ^ (t >>> 7), 61 | t)) ^ t;
    return ((t ^ (t >>> 14)) >>> 0) % n;
  };
}

Deno.test("no special stop is ever inside a run, every stop is there once and in its order", () => {
  const kinds = Object.entries(SPECIAL);
  const met = new Map(kinds.map(([name]) => [name, 0]));
  let runs = 0;
  for (let seed = 0; seed < 3_000; seed += 1) {
    const pick = chance(seed);
    const share = pick(4);
    const special = new Map();
    const doors = [];
    const rows = Array.from({ length: 1 + pick(24) }, (_, i) => {
      const name = `s${i}`;
      const advice = pick(4) < share ? usual() : marked({ step: pick(3) });
      if (pick(5) > 0) return (pick(6) === 0 ? board : stop)(name, advice);
      const [why, more] = kinds[pick(kinds.length)];
      special.set(name, why);
      if (more.doors) doors.push({ target: name, cars: 8, open_front: more.doors });
      return stop(name, more.advice ?? advice, { ...more, call: { target: name, arrive: null, depart: null, note: "", ...more.call } });
    });
    const seen = view(rows, { base: { ...base, doors } });
    const parts = roadParts(seen);
    assert.deepEqual(parts.flatMap((part) => ("rows" in part ? part.rows : [part])), rows);
    for (const part of parts) {
      if (!("rows" in part)) continue;
      runs += 1;
      assert.ok(part.rows.length > 1);
      for (const row of part.rows) assert.equal(special.get(row.target.key), undefined, `seed ${seed}`);
      // Nothing is said of a stop inside but its place, its marks and its speeds.
      for (const row of part.rows) {
        const { notes, lines } = rowWords(seen, row, words);
        assert.equal(notes.length, 1);
        assert.ok(lines.every((line) => ["begin", "worse", "speeds"].includes(line.kind)), `seed ${seed}`);
      }
      const usuals = part.rows.filter((row) => row.advice.flags & 2);
      assert.ok(part.marked === 0 || part.marked + usuals.length === part.rows.length);
      const named = runWords(seen, part, words).lines.map((line) => line.text).join(" ");
      const stops = usuals.filter((row) => row.kind === "call");
      if (part.marked > 0 && stops.length < part.rows.length) for (const row of stops) assert.ok(named.includes(row.target.name), `seed ${seed}`);
    }
    for (const why of special.values()) met.set(why, met.get(why) + 1);
    assert.ok([...special.keys()].every((key) => [...specialRows(seen)].some((row) => row.target.key === key)));
  }
  assert.ok(runs > 1_000 && [...met.values()].every((count) => count > 100), `${runs} runs`);
});

Deno.test("stops without a state in hand are named once, where that is the rule all of them", () => {
  const bare = (advice) => ({ ...advice, flags: advice.flags | 8 });
  const some = [stop("A", marked()), stop("B", bare(marked())), stop("C", bare(usual())), stop("D", NO_ADVICE), board("E", bare(marked()))];
  assert.deepEqual(withoutStateInHand(view(some)), { names: ["B", "C"], all: false, most: true, others: ["A"] });
  assert.deepEqual(withoutStateInHand(view([stop("A", bare(marked())), stop("B", bare(usual())), stop("C", NO_ADVICE)])), { names: ["A", "B"], all: true, most: true, others: [] });
  assert.deepEqual(withoutStateInHand(view([stop("A", marked())])), { names: [], all: false, most: false, others: ["A"] });
  const barred = stop("A", bare(marked()), { bar: { why: "wsp" } });
  assert.deepEqual(withoutStateInHand(view([barred])).names, [], "no advice is given there at all");
});

Deno.test("hardly any room for a patch is the rule where most stops with advice have less than the company's length", () => {
  const here = (settings, ...covers) => ({ ...view(covers.map((cover, i) => ({ ...stop("ABCDEF"[i], marked({ cover })), state: 1 }))), base: { ...base, settings } });
  const rule = (...covers) => isRoomSmallHere(here({}, ...covers));
  assert.ok(rule(140, 0, 150) && rule(10, 149) && !rule(10, 150) && !rule(140, -1, 0, -1), "half of them is no rule");
  assert.ok(!rule(10) && !rule(), "one stop is no rule");
  const dry = here({}, 10, 10);
  assert.ok(!isRoomSmallHere({ ...dry, calls: dry.calls.map((row) => ({ ...row, state: 0 })) }), "said every dry day it would not be read");
  assert.ok(isRoomSmallHere(here({ cover_figure_m: 300 }, 200, 250)) && !isRoomSmallHere(here({ cover_figure_m: 50 }, 60, 70)), "the company's length");
  const seen = here({}, 20, 200, 30);
  assert.deepEqual(seen.rows.map((row) => isRoomSmall(seen.base, row)), [true, false, true]);
  const barred = stop("D", marked({ cover: 500 }), { bar: { why: "wsp" } });
  assert.ok(isRoomSmallHere({ ...seen, calls: [seen.calls[0], seen.calls[2], barred, stop("E", NO_ADVICE)] }), "without advice it is no exception");
});
