/**
 * Reads tracks, one a line, and at each stand asks where.js for the place, as a report does.
 * Prints for each track: stands, of how many the driver was asked, how often a place was wrong.
 * Usage: deno run --allow-read where_tracks.js PACKS.json < TRACKS
 */
import { follow, lapse, startFollowing } from "../../static/core/follow.js";
import { followLine, tripView } from "../../static/core/trip.js";
import { stationsOf, whereIs } from "../../static/core/where.js";

const packs = JSON.parse(Deno.readTextFileSync(Deno.args[0]));
/** A report is hardly begun sooner after the stand, and is in the driver's hand by then. [s] */
const BEGUN_S = 12;
/** No receiver tells on which side of a platform's end a train is that stands so near to it. [m] */
const AT_END_M = 25;

function lineOf(route, key) {
  const { base, table } = packs[route];
  const trip = base.trips.find((one) => one.key === key);
  const prep = { route, pack: "a", trip: key, formation: trip.formation, isolated: 0, state: base.states[1].key, stateAt: 0, trainChanged: false };
  const view = tripView({ sha: "a", base, table, files: [], fetchedAt: 0 }, prep, 0, "2026-11-25");
  const line = followLine(view);
  return { line, along: { stations: stationsOf(base, trip.direction), sign: line.sign, geometry: line.geometry } };
}

/** Whether what is said of a place is true. */
function isTrue({ kind, station, next }, s) {
  if (kind === "at") return s >= station.near - AT_END_M && s <= station.far + AT_END_M;
  if (kind === "beyond") return s > station.far && s < station.far + 400;
  return s > station.far && s < next.near;
}

function run(track) {
  const { line, along } = lineOf(track.route, track.trip);
  const count = { name: track.name, stands: 0, asked: 0, wrong: [], kinds: { at: 0, beyond: 0, between: 0 } };
  let state = startFollowing();
  let stood = 0;
  for (const [second, fix] of track.fixes.entries()) {
    const now = second * 1000;
    if (fix.length > 0) {
      const [lat, lon, accuracy, speed] = fix;
      state = follow(state, line, { lat, lon, accuracy, speed, at: now }, now);
    } else state = lapse(state, now, line);
    stood = track.speed[second] === 0 ? stood + 1 : 0;
    if (stood === 0 || track.side?.[second]) continue;
    const { spot } = whereIs(state, { ...along, next: null }, now);
    const s = track.s[second];
    if (spot && !isTrue(spot, s)) count.wrong.push([second, spot.kind, spot.station.name, Math.round(s - spot.station.far)]);
    if (stood !== BEGUN_S) continue;
    count.stands += 1;
    if (spot) count.kinds[spot.kind] += 1;
    else count.asked += 1;
    if (!spot && Deno.args[1] === "-v") {
      const [place] = state.places;
      console.error(track.name, second, state.places.length, state.at, state.motion, state.doubt, state.strange !== null, state.shaken, Math.max(...state.recent.map((one) => one.accuracy)), place && along.stations.map((one) => Math.round(place.s - one.far)).find((m) => m < 200 && m > -600), along.stations.map((one) => Math.round(s - one.far)).find((m) => m < 200 && m > -600));
    }
  }
  return count;
}

for (const text of (await new Response(Deno.stdin.readable).text()).split("\n")) {
  if (text.trim()) console.log(JSON.stringify(run(JSON.parse(text))));
}
