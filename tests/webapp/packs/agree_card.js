// What the tablet says and draws of every stop, state, train and season: agree_card.js PACK OUT
import { adviceLines, textOf } from "../../../static/core/card.js";
import { drawnApproach } from "../../../static/core/picture.js";
import { lookUp } from "../../../static/core/table.js";
import { allowance, tripView } from "../../../static/core/trip.js";
import { words } from "../../../static/words/en.js";

const { base, table, pictures, day } = JSON.parse(Deno.readTextFileSync(Deno.args[0]));
const cells = [];
for (const [target, aim] of base.targets.entries()) {
  for (const [train, unit] of base.trains.entries()) {
    for (const state of base.states.keys()) {
      for (const season of [0, 1]) {
        const cell = { target, train, state, season };
        const advice = lookUp(base, table, { ...cell, speed: null });
        const row = { target: aim, advice, season, state };
        const [first] = adviceLines(base, row, unit, words.card);
        cells.push({ ...cell, advice, first: textOf(first), drawn: drawnApproach(base, table, pictures[unit.key], cell, advice) });
      }
    }
  }
}
const pack = { sha: "x", base, table, files: [], fetchedAt: 0 };
const trips = base.trips.map((trip) => base.states.filter((one) => one.pickable).map((state) => {
  const prep = { trip: trip.key, formation: trip.formation, isolated: 0, wsp: "works", state: state.key, stateAt: 0, trainChanged: false };
  return allowance(tripView(pack, prep, 0, day).rows);
}));
Deno.writeTextFileSync(Deno.args[1], JSON.stringify({ cells, trips }));
