/**
 * The chain of rail states: what a driver may pick, and what his choice is worth later.
 *
 * @import {Base, Prep, RailState} from "./types.js"
 */

const HOUR = 3600_000;

/**
 * States a driver may pick and set off in.
 * @param {Base} base
 * @returns {RailState[]}
 */
export function pickable(base) {
  return base.states.filter((state) => state.pickable);
}

/**
 * State to plan with now. A choice older than the company's hours, or made for another
 * train, counts as one worse; never better, and never one that nobody may set off in.
 * @param {Base} base
 * @param {Prep} prep
 * @param {number} now
 * @returns {{index: number, hours: number, raised: boolean} | null} null: nothing chosen
 */
export function plannedState(base, prep, now) {
  const chosen = base.states.findIndex((state) => state.key === prep.state && state.pickable);
  if (chosen < 0) return null;
  const age = now - prep.stateAt;
  const hours = Math.max(0, Math.floor(age / HOUR));
  // A clock set back makes the age negative: nobody knows how old the choice is then.
  const old = age < -HOUR / 60 || age > base.settings.rail_state_hours * HOUR;
  if (!old && !prep.trainChanged) return { index: chosen, hours, raised: false };
  const worst = base.states.reduce((last, state, i) => (state.pickable ? i : last), chosen);
  return { index: Math.min(chosen + 1, worst), hours, raised: true };
}
