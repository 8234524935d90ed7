/**
 * What the company allows while the train moves. In doubt, the stricter.
 *
 * @import {PackSettings} from "./types.js"
 */

/**
 * The card may be read while moving only where somebody put a name to it.
 * @param {PackSettings | undefined} settings
 */
export function mayGlance(settings) {
  return settings?.moving_glance?.on === true && Boolean(settings.moving_glance.approver?.trim());
}

/**
 * Marking takes a touch, and the card has none: so it exists on the dark page alone.
 * @param {PackSettings | undefined} settings
 */
export function mayMark(settings) {
  return settings?.mark_here === true && !mayGlance(settings);
}
