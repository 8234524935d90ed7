/**
 * What changed since the last Brief of this line on this tablet: warnings, listed places,
 * the pack. That something is gone here never says that the rail is good.
 *
 * @import {Base, Warning} from "./types.js"
 * @typedef {{pack: string, warnings: Record<string, {rev: number, direction: string, state: string, from: number, to: number}>,
 *   listed: Record<string, {name: string, directions: string[]}>}} Seen
 * @typedef {{first: boolean, pack: boolean, added: string[], amended: string[],
 *   gone: {state: string, from: number, to: number}[], listed: string[], unlisted: string[]}} Since
 *   added and amended are ids of warnings
 */

/**
 * What a Brief shows, to be compared with the next one.
 * @param {Base} base
 * @param {string} pack
 * @param {Warning[]} held
 * @returns {Seen}
 */
export function seenNow(base, pack, held) {
  const mine = held.filter((one) => one.line === undefined || one.line === base.route.key);
  return {
    pack,
    warnings: Object.fromEntries(mine.map((one) => [one.id, {
      rev: one.rev ?? 0, direction: one.direction ?? "", state: one.state ?? "", from: one.from_m ?? NaN, to: one.to_m ?? NaN,
    }])),
    listed: Object.fromEntries(base.listed.map(({ key, name, directions }) => [key, { name, directions }])),
  };
}

/**
 * @param {Seen | null | undefined} before null: no Brief of this line was shown here yet
 * @param {Seen} now
 * @param {string} direction of the trip; what concerns the other one is not said
 * @returns {Since}
 */
export function since(before, now, direction) {
  if (!before) return { first: true, pack: false, added: [], amended: [], gone: [], listed: [], unlisted: [] };
  const ids = Object.keys(now.warnings).filter((id) => here(now.warnings[id].direction, direction));
  return {
    first: false,
    pack: before.pack !== now.pack,
    added: ids.filter((id) => !(id in before.warnings)),
    amended: ids.filter((id) => id in before.warnings && before.warnings[id].rev !== now.warnings[id].rev),
    gone: Object.keys(before.warnings)
      .filter((id) => !(id in now.warnings) && here(before.warnings[id].direction, direction))
      .map((id) => before.warnings[id]),
    listed: names(now.listed, before.listed, direction),
    unlisted: names(before.listed, now.listed, direction),
  };
}

/**
 * @param {string} way "" when it is not known: then it may be this one
 * @param {string} direction
 */
function here(way, direction) {
  return way === "" || way === direction;
}

/**
 * @param {Seen["listed"]} some
 * @param {Seen["listed"]} others
 * @param {string} direction
 */
function names(some, others, direction) {
  return Object.keys(some)
    .filter((key) => !(key in others) && some[key].directions.includes(direction))
    .map((key) => some[key].name);
}

/** @param {Since} one */
export function nothingNew({ first, pack, added, amended, gone, listed, unlisted }) {
  return !first && !pack && [added, amended, gone, listed, unlisted].every((list) => list.length === 0);
}
