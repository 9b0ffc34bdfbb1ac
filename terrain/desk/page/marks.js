/** The signs that stand on map and view: numbered discs, the hill, where a walk starts, the spot. */

const SVG = "http://www.w3.org/2000/svg";

/** An element of a drawing. */
export function drawn(tag, attributes = {}, ...content) {
  const element = document.createElementNS(SVG, tag);
  for (const [name, value] of Object.entries(attributes)) element.setAttribute(name, value);
  element.append(...content);
  return element;
}

/** A sign at the origin, with words for whoever points at it. */
export function mark(kind, text, words) {
  const group = drawn("g", { class: `mark ${kind}` }, drawn("title", {}, words));
  const shapes = {
    vantage: () => [drawn("circle", { r: 11 }), drawn("text", { y: 4.5 }, text)],
    hill: () => [drawn("circle", { r: 12 }), drawn("path", { d: "M0-6 5.5 4.5H-5.5Z" })],
    summit: () => [drawn("path", { d: "M0-6 5.5 4.5H-5.5Z" })],
    start: () => [drawn("rect", { x: -10, y: -10, width: 20, height: 20 }), drawn("text", { y: 5 }, text)],
    place: () => [drawn("rect", { x: -5, y: -5, width: 10, height: 10, transform: "rotate(45)" })],
    spot: () => [drawn("circle", { r: 8 }), drawn("circle", { r: 2.5, class: "point" })],
    frame: () => [drawn("path", { d: text })],
    cross: () => [drawn("path", { d: "M-14 0H-4M4 0H14M0-14V-4M0 4V14" })],
  };
  group.append(...shapes[kind]());
  return group;
}

/** Puts a sign at a pixel. */
export const moveTo = (sign, x, y) => sign.setAttribute("transform", `translate(${x.toFixed(1)} ${y.toFixed(1)})`);

/** A round length of ground for a scale bar, at most so long, in metres. */
export function roundLength(most_m) {
  const power = 10 ** Math.floor(Math.log10(most_m));
  return [5, 2, 1].find((step) => step * power <= most_m) * power;
}
