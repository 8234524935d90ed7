/**
 * The chain of rail states: what a driver may pick, and what his choice is worth later.
 *
 * @import {Base, Prep, RailState} from "./types.js"
 */

import { heldTo } from "./proposal.js";

const HOUR = 3600_000;
/** Signs that show the worst state a driver may set off in; each of the others is one worse. */
const FILM_SIGNS = ["leaves", "dull"];

/** What a driver may have met before the trip. */
export const SIGNS = ["slip", "rain", "mist", "leaves", "dull", "others"];

/**
 * States a driver may pick and set off in.
 * @param {Base} base
 * @returns {RailState[]}
 */
export function pickable(base) {
  return base.states.filter((state) => state.pickable);
}

/**
 * State to plan with now: the driver's, or what was proposed while nothing is said for a better one.
 * A choice older than the company's hours, or made for another
 * train, counts as one worse, and so does each of the driver's signs; never better, and
 * never one that nobody may set off in.
 * @param {Base} base
 * @param {Prep} prep
 * @param {number} now
 * @returns {{index: number, hours: number, raised: boolean} | null} null: nothing chosen
 */
export function plannedState(base, prep, now) {
  const chosen = base.states.findIndex((state) => state.key === prep.state && state.pickable);
  if (chosen < 0) return null;
  const hours = Math.max(0, Math.floor((now - prep.stateAt) / HOUR));
  const raised = isOld(base, prep, now) || prep.trainChanged;
  const worst = base.states.reduce((last, state, i) => (state.pickable ? i : last), chosen);
  const signs = prep.signs ?? [];
  const film = signs.some((sign) => FILM_SIGNS.includes(sign));
  const steps = signs.filter((sign) => !FILM_SIGNS.includes(sign)).length;
  const index = film ? worst : heldTo(base, prep, chosen, isOld(base, prep, now)) + steps + (raised ? 1 : 0);
  return { index: Math.min(index, worst), hours, raised };
}

/**
 * A clock set back makes the age negative: nobody knows how old the choice is then.
 * @param {Base} base
 * @param {Prep} prep
 * @param {number} now
 */
export function isOld(base, prep, now) {
  const age = now - prep.stateAt;
  return age < -HOUR / 60 || age > base.settings.rail_state_hours * HOUR;
}
