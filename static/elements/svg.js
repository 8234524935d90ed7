/** SVG elements and the places of things in the picture of an approach. */

const SVG = "http://www.w3.org/2000/svg";
export const BOX = { width: 780, left: 64, right: 764, top: 84, bottom: 328, names: 354, rows: 3, row: 28, hill: 518, scale: 572 };

/**
 * @param {string} name
 * @param {Record<string, string | number>} attributes
 * @param {(Node | string | null)[]} [children]
 * @returns {SVGElement}
 */
export function el(name, attributes, children = []) {
  const element = document.createElementNS(SVG, name);
  for (const [key, value] of Object.entries(attributes)) element.setAttribute(key, String(value));
  element.append(...children.filter((child) => child !== null));
  return element;
}

/**
 * @param {number} x
 * @param {number} y
 * @param {string} words
 * @param {string} [anchor]
 */
export function text(x, y, words, anchor = "start") {
  return el("text", { x, y, "text-anchor": anchor }, [words]);
}
