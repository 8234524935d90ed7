/**
 * Answers of the driver, one after the other: each is on the tablet's disk before the screen
 * shows it, and is made from what the one before left. One that cannot be written changes
 * nothing: the former answer stands, and the driver is told.
 *
 * @import {State, Store} from "./store.js"
 * @typedef {{rows: Record<string, unknown>, shown: Partial<State> | (() => Partial<State>)}} Answer what is written
 *   by name (undefined forgets it), and what is shown once it is; the train may have gone on
 *   meanwhile, so some of that is made only then
 */

import { keepAll } from "./keep.js";

/**
 * @param {Store} store
 * @param {() => void} refresh works the trip out again
 */
export function answering(store, refresh) {
  /** @type {Promise<boolean>} */
  let last = Promise.resolve(true);

  /** @param {() => Promise<Answer | null> | Answer | null} make null: nothing to answer */
  async function take(make) {
    try {
      const answer = await make();
      if (!answer) return false;
      await keepAll(answer.rows);
      const shown = typeof answer.shown === "function" ? answer.shown() : answer.shown;
      store.set({ ...shown, unkept: 0 });
      refresh();
      return true;
    } catch (error) {
      console.error("answer not kept", error);
      // Another number each time: what the screen shows of it is drawn anew.
      store.set({ unkept: store.get().unkept + 1 });
      return false;
    }
  }

  /**
   * @param {Parameters<typeof take>[0]} make
   * @returns {Promise<boolean>} whether it is kept
   */
  return (make) => (last = last.then(() => take(make)));
}
