/**
 * Reads tracks, one a line, and drives the follower along each. Prints for each what the
 * card would have said: seconds right and sure, estimated, without card, wrong and sure.
 * Usage: deno run --allow-read follow_tracks.js PACKS.json < TRACKS
 */
import { follow, lapse, startFollowing, stepByHand, stopMade, wake } from "../../static/core/follow.js";
import { followLine, tripView } from "../../static/core/trip.js";
import { knowable } from "./knowable.js";

const packs = JSON.parse(Deno.readTextFileSync(Deno.args[0]));
const lines = new Map();

function lineOf(route, key) {
  const name = `${route}/${key}`;
  if (!lines.has(name)) {
    const { base, table } = packs[route];
    const trip = base.trips.find((one) => one.key === key);
    const prep = {
      route, pack: "a", trip: key, formation: trip.formation, isolated: 0,
      state: base.states[1].key, stateAt: 0, trainChanged: false,
    };
    const pack = { sha: "a", base, table, files: [], fetchedAt: 0 };
    lines.set(name, followLine(tripView(pack, prep, 0, "2026-11-25")));
  }
  return lines.get(name);
}

/** Counts one second: what was shown against what is true. */
function judge(count, face, [low, high], second) {
  if (low === -2) count.open += 1;
  else if (face.index === null) count.none += 1;
  else if (face.word !== "sure") count.unsure += 1;
  else if (face.index >= low && face.index <= high) count.right += 1;
  else {
    count.wrong += 1;
    count.first ??= [second, face.index, low];
  }
}

/** Fixes of one second as [lat, lon, accuracy, speed, taken at]; a plain row was taken then. */
function fixesOf(rows, second) {
  if (rows.length === 0 || Array.isArray(rows[0])) return rows;
  return [[...rows, second]];
}

function run(track) {
  const line = lineOf(track.route, track.trip);
  let asked = 0;
  const count = { right: 0, unsure: 0, none: 0, open: 0, wrong: 0, first: null, made: 0, touched: 0, late: 0, knowable: 0, known: 0, doubts: [], slowest: 0, marks: [] };
  let state = startFollowing();
  const could = knowable(track, line);
  const [sleeps, wakes] = track.asleep ?? [Infinity, Infinity];
  let lost = 0;
  for (const [second, fixes] of track.fixes.entries()) {
    if (second >= sleeps && second < wakes) {
      if (track.clock) lost += 1;
      continue;
    }
    const now = (second - lost) * 1000;
    if (second === wakes && track.clock) state = wake(state, line, now);
    const before = state;
    const began = performance.now();
    // A driver who sees no card at a stand says which stop is next, once he is asked.
    const [low, high] = track.right[second];
    asked = state.face.index === null && high > low && track.speed[second] === 0 ? asked + 1 : 0;
    if (asked > 8) state = stepByHand(state, high);
    if (asked > 8) count.touched += 1;
    for (const [lat, lon, accuracy, speed, at] of fixesOf(fixes, second)) {
      state = follow(state, line, { lat, lon, accuracy, speed, at: (at - lost) * 1000 }, now);
    }
    if (fixes.length === 0) state = lapse(state, now, line);
    count.slowest = Math.max(count.slowest, performance.now() - began);
    const rights = count.right;
    judge(count, state.face, track.right[second], second);
    if (could[second]) {
      count.knowable += 1;
      count.known += count.right - rights;
    }
    if (stopMade(before, state) !== null) count.made += 1;
    if (state.doubt !== before.doubt) count.doubts.push([second, state.doubt]);
    const passed = passing(line, track, second);
    if (passed !== null) count.marks.push(atMark(state.face, passed, track, second));
    if (late(state, line, track, second)) count.late += 1;
    if (Deno.args[1] === "-v" && (JSON.stringify(state.face) !== JSON.stringify(before.face))) {
      const p = state.places[0];
      console.error(second, JSON.stringify(state.face), state.motion, `k=${state.index}`, state.stood, state.doubt, "s", track.s[second], p && [p.s, p.lo, p.hi].map(Math.round), track.right[second].join());
    }
  }
  return { name: track.name, seconds: track.fixes.length, ...count };
}

/**
 * The call whose earlier mark the train truly passes in this second; null: none. Where it still
 * slides past the stop before, no card of the next one can be right yet.
 */
function passing(line, track, second) {
  if (track.odd?.[second] === "sliding") return null;
  const [low, high] = track.right[second];
  const earlier = low === high && low >= 0 ? line.stops[low]?.earlier ?? null : null;
  if (earlier === null || second === 0) return null;
  const mark = line.sign * earlier;
  return track.s[second - 1] < mark && track.s[second] >= mark ? low : null;
}

/** What the card says there, and whether something was odd in the 90 s before. */
function atMark({ index, word }, call, track, second) {
  const odd = (track.odd ?? []).slice(Math.max(0, second - 90), second + 1).some(Boolean);
  return { call, second, odd, index, right: index === call, none: index === null, word };
}

/** Truly within 30 s of the earlier mark of the card that is shown, and not frozen. */
function late(state, line, track, second) {
  if (state.motion !== "moving" || state.face.index === null || state.frozen) return false;
  const earlier = line.stops[state.face.index]?.earlier ?? null;
  const ahead = earlier === null ? Infinity : line.sign * earlier - track.s[second];
  return ahead >= 0 && ahead <= 29 * track.speed[second];
}

for (const text of new TextDecoder().decode(await readAll()).split("\n")) {
  if (text.trim()) console.log(JSON.stringify(run(JSON.parse(text))));
}

async function readAll() {
  const chunks = [];
  for await (const chunk of Deno.stdin.readable) chunks.push(chunk);
  const whole = new Uint8Array(chunks.reduce((sum, one) => sum + one.length, 0));
  let at = 0;
  for (const one of chunks) {
    whole.set(one, at);
    at += one.length;
  }
  return whole;
}
