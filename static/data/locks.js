/** One flush at a time over all windows of the app, where the browser can promise that. */

/**
 * @param {string} name
 * @param {() => Promise<void>} work
 * @returns {Promise<boolean>} whether the work was done here
 */
export async function ifFree(name, work) {
  if (!navigator.locks) {
    // The server counts each report once anyway.
    await work();
    return true;
  }
  return navigator.locks.request(name, { ifAvailable: true }, async (lock) => {
    if (!lock) return false;
    await work();
    return true;
  });
}
