/**
 * The gradient under the picture of an approach.
 *
 * @import {Base} from "../core/types.js"
 * @import {ChartWords, Scale} from "./chart.js"
 */

import { gradientWords } from "../core/format.js";
import { BOX, el, text } from "./svg.js";

/**
 * The ground under the approach, rising and falling as it does.
 * @param {Base} base
 * @param {Scale} scale
 * @param {ChartWords} words
 */
export function ground(base, scale, words) {
  const parts = base.gradients
    .map(([from, to, ratio]) => {
      const ends = [from, to].map((at) => scale.sign * (scale.mark - at));
      return { near: Math.max(0, Math.min(...ends)), far: Math.min(scale.far, Math.max(...ends)), rise: scale.sign * ratio };
    })
    .filter((part) => part.far > part.near)
    .toSorted((a, b) => b.far - a.far);
  const heights = parts.reduce((all, part) => [...all, all[all.length - 1] + part.rise * (part.far - part.near)], [0]);
  const [low, high] = [Math.min(...heights), Math.max(...heights)];
  const flat = 50 / Math.max(high - low, 12);
  const y = (/** @type {number} */ height) => BOX.hill - 8 - (height - low) * flat;
  const points = [`${scale.x(scale.far)},${y(0)}`, ...parts.map((part, i) => `${scale.x(part.near)},${y(heights[i + 1])}`)];
  const labels = parts.filter((part) => scale.x(part.near) - scale.x(part.far) > 130).map((part) => {
    const way = Math.abs(part.rise) < 1 / 2000 ? "" : part.rise < 0 ? words.falls : words.rises;
    const name = `${way} ${gradientWords(part.rise, words.figures)}`.trim();
    return text((scale.x(part.near) + scale.x(part.far)) / 2, BOX.hill + 24, name, "middle");
  });
  return [el("polyline", { class: "hill", points: points.join(" "), fill: "none" }), ...labels];
}
