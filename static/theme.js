// Runs before the first paint, so that a dark cab never sees a white flash and nothing moves
// once it stands: light, sizes, hand and language of the screen, as the driver set them.
{
  const root = document.documentElement;
  const LIGHTS = ["bright", "day", "dusk", "night"];
  /** The first thing a browser shows, until the sheet is here. @type {Record<string, string>} */
  const PAPER = { bright: "#ffffff", day: "#f4f1ea", dusk: "#23272c", night: "#0d0f11" };
  // Assumption, no source: a line at about this latitude, whose noon is the clock's noon.
  const LATITUDE = 52;
  // Civil twilight ends with the sun 6 degrees down; as much above it still blinds low.
  const TWILIGHT = 6;
  const DEGREE = Math.PI / 180;

  /** @param {string} key */
  const kept = (key) => {
    try {
      return localStorage.getItem(key);
    } catch {
      return null; // storage is closed to us: the defaults will do
    }
  };

  /**
   * Height of the sun in degrees, well within a degree and a half of an almanac's.
   * @param {Date} now
   */
  function sun(now) {
    const newYear = new Date(now.getFullYear(), 0, 1);
    const day = (now.getTime() - newYear.getTime()) / 86_400_000;
    const summerHours = Math.max(0, newYear.getTimezoneOffset() - now.getTimezoneOffset()) / 60;
    const tilt = -23.44 * DEGREE * Math.cos((2 * Math.PI * (day + 10)) / 365);
    const hour = (now.getHours() - summerHours + now.getMinutes() / 60 - 12) * 15 * DEGREE;
    const sine = Math.sin(LATITUDE * DEGREE) * Math.sin(tilt) + Math.cos(LATITUDE * DEGREE) * Math.cos(tilt) * Math.cos(hour);
    return Math.asin(sine) / DEGREE;
  }

  /** By hand first; else a tablet set to dark is dark; else as high as the sun stands. */
  function light() {
    const chosen = kept("sih-theme") ?? "auto";
    if (LIGHTS.includes(chosen)) return chosen;
    if (matchMedia("(prefers-color-scheme: dark)").matches) return "night";
    // The tablet's clock may be wrong; the depot's counts where it is known.
    const height = sun(new Date(Date.now() + Number(kept("sih-clock") ?? 0)));
    return height > TWILIGHT ? "day" : height > -TWILIGHT ? "dusk" : "night";
  }

  /** @param {string} key @param {number} least @param {number} most */
  const figure = (key, least, most) => {
    const value = Number(kept(key) ?? NaN);
    return value >= least && value <= most ? value : null;
  };

  function dress() {
    const now = light();
    root.dataset.theme = kept("sih-theme") ?? "auto";
    root.dataset.hand = kept("sih-hand") === "left" ? "left" : "right";
    const [mm, eye] = [figure("sih-px-per-mm", 3, 12), figure("sih-eye-mm", 300, 1200)];
    if (mm) root.style.setProperty("--mm", `${mm}px`);
    else root.style.removeProperty("--mm");
    if (eye) root.style.setProperty("--eye", String(eye));
    else root.style.removeProperty("--eye");
    // Darker at any time; brighter only at a stand, for nothing may flare up on the move.
    const before = LIGHTS.indexOf(root.dataset.light ?? "");
    const brighter = LIGHTS.indexOf(now) < before;
    if (LIGHTS.indexOf(now) === before || (brighter && document.body?.classList.contains("moving"))) return;
    root.dataset.light = now;
    root.style.backgroundColor = PAPER[now];
    for (const meta of document.querySelectorAll("meta[name=theme-color]")) meta.setAttribute("content", PAPER[now]);
  }

  dress();
  addEventListener("sih-dress", dress);
  setInterval(dress, 60_000);
  document.addEventListener("visibilitychange", dress);
  matchMedia("(prefers-color-scheme: dark)").addEventListener("change", dress);
}
