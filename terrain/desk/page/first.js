/** The first picture: the bare ground, drawn before anything else is known of it. */

import { numbersOf, readAddress } from "./state.js";
import { rangeOf, wholePlane } from "./planes.js";
import { PlainPainter } from "./plain.js";
import { ShadePainter } from "./shade.js";
import { made } from "./words.js";

// the ground alone, under no sun
const BARE = { kind: 0, top: -1, minute: -1, evening: false, sun: [0, 0, 1], dusk: 1, over: false, hidden: false };

/** Brings the ground and draws it where the map stands; what map and supply go on from. */
export async function firstPicture(source, root) {
  const bring = async () => {
    const ground = await source.ground();
    return [ground, await wholePlane(ground, (tile) => source.tile("heights", tile))];
  };
  const [[ground, heights], colours] = await Promise.all([bring(), source.colours()]);
  const painter = painterFor(root.querySelector("canvas"), colours);
  painter.put("heights", heights);
  const size = { width: root.clientWidth, height: root.clientHeight };
  if (size.width && size.height) {
    const said = readAddress(globalThis.location.hash).map;
    const view = sampledView(windowOn(ground, size, numbersOf(said)), ground, rangeOf(heights));
    painter.sample({ ...view, isValley: false });
    painter.shade({ ...BARE, ...view });
    document.body.classList.add("drawn");
  }
  return { colours, heights, painter };
}

/** What is in a window of a size: row and col of its middle, metres and cells to a pixel.
 *
 * said: row, col and metres to a pixel; null for the whole ground.
 */
export function windowOn({ rows, cols, cell_m }, { width, height }, said) {
  const whole = cell_m * Math.max(rows / Math.max(height, 1), cols / Math.max(width, 1));
  const [row, col, scale_m] = said ?? [(rows - 1) / 2, (cols - 1) / 2, whole];
  return { row, col, scale_m, cells: scale_m / cell_m, width, height, whole_m: whole };
}

/** The same in pixels of the screen, as painters take it. range: the lowest and highest ground. */
export function sampledView(view, { cell_m, heights }, range) {
  const fine = Math.min(globalThis.devicePixelRatio || 1, 2);
  const [width, height] = [view.width, view.height].map((px) => Math.round(px * fine));
  const cells = (view.cells * view.width) / width;
  return { row: view.row, col: view.col, width, height, cells, cell_m, step_m: heights.step_m, line: fine, ...range };
}

/** The painter of this browser. */
function painterFor(canvas, colours) {
  try {
    return new ShadePainter(canvas, colours);
  } catch (error) {
    const plain = made("canvas");
    plain.className = canvas.className;
    canvas.replaceWith(plain);
    return new PlainPainter(plain, colours);
  }
}
