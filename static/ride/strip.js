/**
 * The stretch between two stops: above, where the train really is; below, where the app takes it
 * to be, as wide as it is unsure, with the mark of the card it shows.
 *
 * @import {Ride} from "./ride.js"
 */

import { fill, h } from "../elements/dom.js";
import { inTunnel, SHORT_M, TUNNEL } from "./train.js";

const AFTER_M = 350;

/**
 * @param {HTMLElement} root
 * @param {Ride} ride
 * @param {typeof import("./words/ride.js").en} w
 */
export function drawStrip(root, ride, w) {
  const { way, train, follow, view } = ride;
  const at = Math.min(train.next, way.stops.length - 1);
  const stop = way.stops[at];
  const name = (/** @type {number} */ index) => view.calls[index]?.target.name ?? "";
  const from = Math.min(at > 0 ? way.stops[at - 1].near : way.origin, train.s - 50);
  const to = stop.far + AFTER_M;
  const share = (/** @type {number} */ s) => Math.max(0, Math.min(1, (s - from) / (to - from)));
  const span = (/** @type {string} */ kind, /** @type {number} */ a, /** @type {number} */ b, words = "") =>
    placed(h("span", { className: kind }, words), share(a), share(b));
  const point = (/** @type {string} */ kind, /** @type {number} */ s, words = "") =>
    placed(h("span", { className: share(s) > 0.55 ? `${kind} west` : kind }, words), share(s));
  const row = follow.face.index === null ? null : way.stops[follow.face.index];
  const begin = row && row.begin !== null && row.begin >= from && row.begin <= to ? row.begin : null;
  const places = follow.at === null ? [] : follow.places;
  fill(root,
    h("div", { className: "lane" }, h("b", {}, w.train), h("div", { className: "rail" },
      at > 0 && span("platform", way.stops[at - 1].near, way.stops[at - 1].far),
      span("platform", stop.near, stop.far),
      ride.asked.has("tunnel") && span("tunnel", stop.near - TUNNEL.from, stop.near - TUNNEL.to),
      ride.asked.has("short") && point("signal", stop.near - SHORT_M),
      point(inTunnel(train, way, ride.asked) ? "train-dim" : "train", train.s))),
    h("div", { className: "lane" }, h("b", {}, w.card), h("div", { className: "rail" },
      begin !== null && point("begin", begin, w.begin),
      ...places.map((place) => span("taken", place.lo, place.hi)))),
    h("div", { className: "ends" }, h("span", {}, name(at - 1)), h("span", {}, name(at))),
  );
}

/**
 * @param {HTMLElement} element
 * @param {number} left share of the width
 * @param {number} [right]
 */
function placed(element, left, right) {
  element.style.left = `${left * 100}%`;
  if (right !== undefined) element.style.width = `${Math.max(0.4, (right - left) * 100)}%`;
  return element;
}
