/**
 * The lines of the demonstration, from the depot or, with no network, from a store of the ride's
 * own. The app's storage is not opened here.
 *
 * @import {Pack, PackFile} from "../core/types.js"
 */

const STORE = "step-in-hand-ride";

/** @returns {Promise<Pack[]>} */
export async function fetchPacks() {
  const index = await (await asked("/api/index")).json();
  return Promise.all(index.routes.map((/** @type {{pack: string}} */ one) => packOf(one.pack)));
}

/**
 * @param {string} sha
 * @returns {Promise<Pack>}
 */
async function packOf(sha) {
  const { files } = await (await asked(`/packs/${sha}`)).json();
  const [base, table] = await Promise.all(["base", "table"].map(async (kind) => {
    const file = files.find((/** @type {PackFile} */ one) => one.kind === kind);
    return (await asked(`/packs/${file.sha256}`)).json();
  }));
  return { sha, base, table, files, fetchedAt: 0 };
}

/** @param {string} path */
async function asked(path) {
  const kept = await caches.open(STORE);
  try {
    const answer = await fetch(path);
    if (!answer.ok) throw new Error(`${path}: status ${answer.status}`);
    await kept.put(path, answer.clone());
    return answer;
  } catch (error) {
    const before = await kept.match(path);
    if (!before) throw error;
    return before;
  }
}
