/**
 * Answers of the driver, one after the other: each is on the tablet's disk before the screen
 * shows it, and is made from what the one before left. If one cannot be written, the driver is
 * told. What was said of the train and the rail, and advice off, is in use all the same until
 * the app closes: a known fault must not wait for a disk. Any other changes nothing.
 *
 * @import {State, Store} from "./store.js"
 * @typedef {{rows: Record<string, unknown>, shown: Partial<State> | (() => Partial<State>), anyway?: boolean}} Answer what is written
 *   by name (undefined forgets it), and what is shown once it is; the train may have gone on
 *   meanwhile, so some of that is made only then; `anyway`: shown even if it is not written
 */

import { keepAll } from "./keep.js";
import { tellOtherWindows } from "./windows.js";

/**
 * @param {Store} store
 * @param {() => void} refresh works the trip out again
 */
export function answering(store, refresh) {
  /** @type {Promise<boolean>} */
  let last = Promise.resolve(true);

  /** @param {() => Promise<Answer | null> | Answer | null} make null: nothing to answer */
  async function take(make) {
    /** @type {Answer | null} */
    let answer = null;
    try {
      answer = await make();
      if (!answer) return false;
      await keepAll(answer.rows);
      tellOtherWindows();
      show(answer, { unkept: 0, unkeptInUse: false });
      return true;
    } catch (error) {
      console.error("answer not kept", error);
      // Another number each time: what the screen shows of it is drawn again.
      const told = { unkept: store.get().unkept + 1, unkeptInUse: answer?.anyway === true };
      if (answer?.anyway) show(answer, told);
      else store.set(told);
      return false;
    }
  }

  /** @param {Answer} answer @param {Partial<State>} told */
  function show({ shown }, told) {
    store.set({ ...(typeof shown === "function" ? shown() : shown), ...told });
    refresh();
  }

  /**
   * @param {Parameters<typeof take>[0]} make
   * @returns {Promise<boolean>} whether it is kept
   */
  return (make) => (last = last.then(() => take(make)));
}
