/**
 * Two windows of the app on one tablet: what was answered in one is asked of the disk again by
 * the others. A card must not go on with what its driver has taken back next door.
 */

const NAME = "sih-answered";
/** Older browsers have none: there a window learns of it at its next start. */
const channel = globalThis.BroadcastChannel ? new BroadcastChannel(NAME) : null;
/** Without it two windows may work at one draft; it is one report all the same. */
const drafts = globalThis.BroadcastChannel ? new BroadcastChannel("sih-drafts") : null;

/** What is on the disk has changed; nobody else is told what it is. */
export function tellOtherWindows() {
  channel?.postMessage(null);
}

/** @param {string} id of the draft that this window has in hand from now on, and no other */
export function tellTakenUp(id) {
  drafts?.postMessage(id);
}

/** @param {(id: string) => void} told */
export function onTakenUp(told) {
  drafts?.addEventListener("message", ({ data }) => told(String(data)));
}

/** @param {() => void} told of an answer in another window */
export function onAnswerElsewhere(told) {
  channel?.addEventListener("message", told);
}
