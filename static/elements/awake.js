/**
 * Keeps the screen on while a page is up, and says honestly when it may go off: refused,
 * not there, or taken back by the system while the page is seen.
 *
 * @param {(asleep: boolean) => void} told whether the screen may switch off by itself
 * @returns {() => void} lets the screen sleep again
 */
export function stayAwake(told) {
  /** @type {WakeLockSentinel | null} */
  let sentinel = null;
  let over = false;
  const seen = () => document.visibilityState === "visible";

  async function ask() {
    // Hiding the page takes the lock away; it comes back only by asking again.
    if (over || !seen() || (sentinel && !sentinel.released)) return;
    sentinel = (await navigator.wakeLock?.request("screen").catch(() => null)) ?? null;
    if (over) return void sentinel?.release();
    told(sentinel === null);
    sentinel?.addEventListener("release", () => !over && seen() && told(true));
  }

  document.addEventListener("visibilitychange", ask);
  void ask();
  return () => {
    over = true;
    document.removeEventListener("visibilitychange", ask);
    void sentinel?.release();
  };
}
