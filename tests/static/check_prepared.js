// Every state of the train on every trip of both lines: counts add up, the reason is said once,
// a warning of one place meets its own stops alone: check_prepared.js PACKS DAY
import assert from "node:assert/strict";
import { cardLines, listedHere, listedRank, textOf } from "../../static/core/card.js";
import { nameOf, specialStops, withoutAdviceLines } from "../../static/core/first.js";
import { roadParts, rowWords, runWords } from "../../static/core/road.js";
import { countsOf, tripView } from "../../static/core/trip.js";
import { words } from "../../static/words/en.js";

const [packs, day] = Deno.args;
const TRAINS = [
  ...["works", "fault"].map((wsp) => ({ wsp })), { brakeTest: "weak" }, { off: "radio" }, { isolated: 1 },
  { isolated: "more" }, { isolated: "more", wsp: "fault" }, { formation: "other" }, { formation: "other", isolated: "more" },
];
const READING = { now: 0, offset: 0, kept: 0, heard: 0 };
let views = 0;

/** A warning of 100 m, 50 m before a stop's mark. */
function warningAt(base, target) {
  const { sign } = base.directions.find((one) => one.key === target.direction);
  const mark = target.mark_m.find((one) => one !== null);
  return {
    id: "w", rev: 1, line: base.route.key, direction: target.direction, datum: base.route.datum, state: base.states.at(-2).key,
    from_m: mark - sign * 150, to_m: mark - sign * 50, reason: "leaf film", from_at: "1970-01-01T00:00:00Z",
  };
}

/** From the pack alone: whether a place lies between the furthest reach of any train and the limit. */
function lies(base, target, warning) {
  const { sign } = base.directions.find((one) => one.key === target.direction);
  const trains = target.mark_m.flatMap((mark, i) => (mark === null ? [] : [i]));
  const begins = Math.min(...trains.map((i) => sign * target.mark_m[i] - target.reach_m[i]));
  const ends = Math.max(...trains.map((i) => sign * target.limit_m[i]));
  const ways = [sign * warning.from_m, sign * warning.to_m];
  return Math.max(...ways) >= begins && Math.min(...ways) <= ends;
}

function checkCounts(view, name) {
  const { stops, changed, usual, noSpeed, none, untold } = countsOf(view.rows);
  assert.equal(stops, view.calls.length, name);
  assert.equal(changed + usual + noSpeed + none, stops, name);
  assert.equal(noSpeed + none, untold.stops, name);
  assert.equal(untold.stops + untold.boards, view.rows.filter(({ advice }) => advice.status !== 0).length, name);
  if (view.bar) assert.deepEqual([none, untold.boards], [stops, view.rows.length - stops], name);
}

function checkReason(view, name) {
  const lines = roadParts(view).flatMap((part) => ("rows" in part ? runWords(view, part, words) : rowWords(view, part, words)).lines);
  for (const row of view.calls) {
    const card = cardLines(view.base, row, view.train, words.card).map(textOf);
    if (!view.train) assert.ok(card.includes(words.card.barWords[view.bar.why]) || view.off, `${name}: ${card}`);
  }
  if (!view.bar || view.off) return;
  assert.ok(!lines.some(({ text }) => text === words.card.barWords[view.bar.why]), `${name}: said at a stop again`);
  if (!view.train && view.bar.why !== "weak") assert.ok(words.brief.noTrainWords[view.bar.why], name);
}

/** Nothing that is left out is worse than what is named. */
function checkWorst(view, name) {
  if (view.bar) return;
  const special = specialStops(view, words);
  const own = new Set(special.map(({ row }) => row));
  for (const row of view.rows) {
    const asks = row.warned?.rank >= view.state || row.target.kind === "buffers" || listedHere(view.base, row, view.train).length > 0;
    assert.equal(own.has(row) || row.advice.status !== 0 || !asks, true, name);
  }
  const ranks = special.map(({ row }) => Math.max(row.state, listedRank(view.base, row, view.train)));
  assert.deepEqual(ranks, ranks.toSorted((a, b) => b - a), name);
  const bare = withoutAdviceLines(view, words).join(" ");
  const unnamed = view.rows.filter(({ advice }) => advice.status !== 0).filter((row) => !bare.includes(nameOf(row)));
  assert.ok(unnamed.length === 0 || / and \d+ more/.test(bare), name);
}

for (const [route, { base, table }] of Object.entries(JSON.parse(Deno.readTextFileSync(packs)))) {
  const pack = { sha: "x", base, table, files: [], fetchedAt: 0 };
  for (const trip of base.trips) {
    const targets = trip.calls.map(({ target }) => base.targets.find((one) => one.key === target));
    for (const train of TRAINS) {
      for (const state of base.states.filter((one) => one.pickable)) {
        const prep = {
          route, pack: "x", trip: trip.key, formation: trip.formation, isolated: 0, state: state.key, stateAt: 0,
          trainChanged: false, wsp: "works", sand: "full", signs: [], off: null, calls: {}, extra: [], ...train,
        };
        const name = `${route} ${trip.key} ${state.key} ${JSON.stringify(train)}`;
        const plain = tripView(pack, prep, 0, day);
        checkCounts(plain, name);
        checkReason(plain, name);
        checkWorst(plain, name);
        views += 1;
        if (state !== base.states[0]) continue;
        for (const target of [targets[0], targets[targets.length >> 1], targets.at(-1)]) {
          const warning = warningAt(base, target);
          const view = tripView(pack, prep, 0, day, { held: [warning], reading: READING });
          const met = view.rows.filter((row) => row.warned).map((row) => row.target.key);
          const may = view.rows.filter((row) => lies(base, row.target, warning)).map((row) => row.target.key);
          assert.ok(met.includes(target.key), name);
          assert.ok(met.every((key) => may.includes(key)), `${name}: ${met} but ${may}`);
          assert.ok(met.length <= 4 && met.length < view.rows.length, `${name}: ${met}`);
          checkCounts(view, name);
        }
      }
    }
  }
}
console.log(views);
