/**
 * A page drawn again between a finger's coming down and its going up takes the control from
 * under it, and the browser then drops the tap. So it is with the space bar, which presses a
 * control as it comes up. News from the depot can wait that long.
 */

/** A finger left on the glass, or one whose end was never told, holds nothing up for longer. */
const LONGEST_MS = 2_000;
/** The click comes as an event of its own, some time after the finger went up. */
const CLICK_MS = 300;

/** What waits, by the page that it draws. @type {Map<Element, () => void>} */
const waiting = new Map();
let down = false;
/** @type {ReturnType<typeof setTimeout> | undefined} */
let timer;

/** @param {number} ms */
function freeIn(ms) {
  clearTimeout(timer);
  timer = setTimeout(free, ms);
}

function free() {
  down = false;
  const all = [...waiting];
  waiting.clear();
  // A page left by that very tap is drawn no more.
  for (const [page, draw] of all) if (page.isConnected) draw();
}

function pressed() {
  down = true;
  freeIn(LONGEST_MS);
}

addEventListener("pointerdown", pressed, { capture: true, passive: true });
addEventListener("pointerup", () => down && freeIn(CLICK_MS), { capture: true, passive: true });
addEventListener("pointercancel", () => down && freeIn(0), { capture: true, passive: true });
addEventListener("click", () => down && freeIn(0), { capture: true, passive: true });
addEventListener("keydown", ({ key }) => key === " " && pressed(), { capture: true, passive: true });
addEventListener("keyup", ({ key }) => key === " " && down && freeIn(0), { capture: true, passive: true });

/**
 * Draw now, or as soon as nothing is pressed.
 * @param {Element} page
 * @param {() => void} draw
 */
export function untouched(page, draw) {
  if (down) waiting.set(page, draw);
  else draw();
}
