/**
 * What the Brief says of packs that are missing or damaged: which, and what is being done about
 * it now. The catalogue of words comes in from outside, so this module knows no language.
 *
 * @typedef {typeof import("../words/en.js").words.brief} BriefWords
 * @typedef {{name: string, done: number, of: number}} Progress files of one pack
 * @typedef {{packs: Record<string, {name: string, damaged: boolean} | undefined>, pack: unknown,
 *   contact: import("./types.js").Contact, asking: boolean, fetching: boolean, progress: Progress | null}} Packs
 *   pack: the one in use; asking: the depot is being asked what it has
 */

/**
 * @param {Packs} state
 * @param {BriefWords} w
 * @returns {string | null} null: nothing is missing
 */
export function packSaid(state, w) {
  const held = Object.values(state.packs).filter((one) => one !== undefined);
  const damaged = held.filter((one) => one.damaged || !state.pack);
  if (damaged.length > 0) return `${w.damaged(damaged.map(({ name }) => name).join(", "))} ${done(state, w, w.connectAgain)}`;
  if (state.pack) return null;
  return state.fetching ? w.fetching(state.progress) : `${w.noPack} ${done(state, w, w.connect)}`;
}

/**
 * @param {Packs} state
 * @param {BriefWords} w
 * @param {string} otherwise what the driver can do when nobody is at it
 */
function done({ contact, asking, fetching, progress }, w, otherwise) {
  if (fetching) return w.fetching(progress);
  if (asking || contact === "unknown") return w.asking;
  return contact === "online" ? w.notGiven : otherwise;
}
