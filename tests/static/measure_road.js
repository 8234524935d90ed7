// Words of the Brief's list of stops for every trip on every rail: measure_road.js PACKS DAY
import assert from "node:assert/strict";
import { roadParts, rowWords, runWords } from "../../static/core/road.js";
import { tripView } from "../../static/core/trip.js";
import { words as de } from "../../static/words/de.js";
import { words as en } from "../../static/words/en.js";

const [packs, day] = Deno.args;
const catalogues = { en, de };

/** A label that stands in the same place in every row is seen, not read again. */
const LABELS = /^(If worse|Falls schlechter)(:|,)?/;

/** Counted as they stand on the screen while nothing is opened. */
function counted({ when, name, notes, lines }) {
  const shown = lines.filter((line) => !line.more).map((line) => line.text.replace(LABELS, ""));
  const text = [when, name, ...notes, ...shown].join(" ");
  return text.split(/\s+/).filter((word) => word !== "").length;
}

for (const [route, { base, table }] of Object.entries(JSON.parse(Deno.readTextFileSync(packs)))) {
  const pack = { sha: "x", base, table, files: [], fetchedAt: 0 };
  for (const state of base.states.filter((one) => one.pickable)) {
    for (const trip of base.trips) {
      const prep = {
        route, pack: "x", trip: trip.key, formation: trip.formation, isolated: 0, state: state.key, stateAt: 0,
        trainChanged: false, wsp: "works", sand: "full", signs: [], off: null, calls: {}, extra: [],
      };
      const view = tripView(pack, prep, 0, day);
      const parts = roadParts(view);
      assert.deepEqual(parts.flatMap((part) => ("rows" in part ? part.rows : [part])), view.rows);
      for (const [language, words] of Object.entries(catalogues)) {
        const folded = parts.map((part) => counted("rows" in part ? runWords(view, part, words) : rowWords(view, part, words)));
        const whole = view.rows.map((row) => counted(rowWords(view, row, words)));
        const sum = (all) => all.reduce((one, other) => one + other, 0);
        console.log(JSON.stringify({ route, trip: trip.key, stops: view.calls.length, state: state.key, language, words: sum(folded), unfolded: sum(whole) }));
      }
    }
  }
}
