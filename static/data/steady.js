/**
 * Time that only goes on. The tablet's clock may be set while the train runs; ages of
 * positions are measured by this one instead.
 */

/** @returns {number} milliseconds, near the tablet's clock at the app's start */
export function steadyNow() {
  return performance.timeOrigin + performance.now();
}
