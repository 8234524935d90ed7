/**
 * What the first look does not need, fetched once it stands: what taps ask for, contact with
 * the depot, and the position.
 *
 * @import {Actions, Store} from "./store.js"
 */

import { createActions } from "./actions.js";
import { rememberClock } from "./dress.js";
import { createNetwork } from "./network.js";
import { startPosition } from "./position.js";

/**
 * @param {Store} store
 * @param {string} build
 * @param {Pick<Actions, "applyUpdate" | "installApp" | "emptiedTold">} shell
 */
export function startLater(store, build, shell) {
  const network = createNetwork(store, build);
  store.act = createActions(store, network, shell);
  rememberClock(store);
  startPosition(store);
  return network;
}
