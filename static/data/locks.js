/** What all windows of the app know of each other, where the browser can promise that. */

/**
 * One flush at a time over all windows.
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

/**
 * Hold a name, together with any other window that wants to.
 * @param {string} name
 * @returns {() => void} lets it go; a window that is closed lets go by itself
 */
export function holdTogether(name) {
  let letGo = () => {};
  const over = new Promise((resolve) => (letGo = () => resolve(undefined)));
  navigator.locks?.request(name, { mode: "shared" }, () => over).catch(() => {});
  return () => letGo();
}

/**
 * @param {string} name
 * @returns {Promise<boolean>} whether any window, this one too, holds it
 */
export async function isHeld(name) {
  const all = await navigator.locks?.query();
  return all?.held?.some((lock) => lock.name === name) ?? false;
}
