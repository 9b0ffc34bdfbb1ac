/** The map drawn without WebGL2: the same two passes as in shade.js, one pixel after the other.
 *
 * sample: planes -> eight numbers for each pixel of the screen (pan and zoom)
 * shade:  those -> colours (mist and clock)
 *
 * Tests hold the shader against this.
 */

import { NONE, rgbOf } from "./planes.js";

export const CHANNELS = 4;
export const FLAT = 32768;
export const STEEPNESS = 6553.6;
export const REACH = 8;

/** Names of the planes that a painter draws from. */
export const KINDS = ["heights", "flood", "valley", "light", "days", "visible"];

/** Two layers of four numbers to a pixel: height, flood, valley, light; slopes, day, visible. */
export class Sampled {
  constructor(width, height) {
    Object.assign(this, { width, height });
    this.first = new Uint16Array(CHANNELS * width * height).fill(NONE);
    this.second = new Uint16Array(CHANNELS * width * height).fill(NONE);
  }
}

/** Draws on a 2D canvas; `put`, `sample` and `shade` as the painter of shade.js has them. */
export class PlainPainter {
  constructor(canvas, colours) {
    this.canvas = canvas;
    this.context = canvas.getContext("2d");
    this.colours = palette(colours);
    this.planes = {};
    this.sampled = null;
  }

  put(kind, plane) {
    this.planes[kind] = plane;
  }

  /** view: row and col of the middle, cells to a pixel, cell_m, step_m; width and height. */
  sample(view) {
    const sampled = new Sampled(view.width, view.height);
    this.sampled = sampled;
    Object.assign(this.canvas, { width: view.width, height: view.height });
    const { heights, flood, valley, light, days, visible } = this.planes;
    if (!heights) return;
    const reach = Math.min(Math.max(view.cells, 1), REACH);
    for (let y = 0, at = 0; y < view.height; y += 1) {
      const row = view.row + (y + 0.5 - view.height / 2) * view.cells;
      if (row < -0.5 || row >= heights.rows - 0.5) at += CHANNELS * view.width;
      else {
        for (let x = 0; x < view.width; x += 1, at += CHANNELS) {
          const col = view.col + (x + 0.5 - view.width / 2) * view.cells;
          if (col < -0.5 || col >= heights.cols - 0.5) continue;
          const height = smooth(heights, row, col, 0.5);
          if (height === NONE) continue;
          sampled.first[at] = height;
          sampled.first[at + 1] = smooth(flood, row, col, 0.5);
          sampled.first[at + 2] = smooth(valley, row, col, 0.01);
          sampled.first[at + 3] = smooth(light, row, col, 0.5);
          const run = (2 * reach * view.cell_m) / view.step_m;
          const east = [row, col + reach, row, col - reach];
          const north = [row - reach, col, row + reach, col];
          sampled.second[at] = slope(heights, east, height, run);
          sampled.second[at + 1] = slope(heights, north, height, run);
          sampled.second[at + 2] = days?.at(row, col) ?? NONE;
          sampled.second[at + 3] = visible?.at(row, col) ?? NONE;
        }
      }
    }
  }

  shade(look) {
    const { width, height } = this.sampled;
    const image = new ImageData(width, height);
    for (let y = 0, at = 0; y < height; y += 1) {
      for (let x = 0; x < width; x += 1, at += 4) {
        const colour = shaded(this.sampled, x, y, look, this.colours);
        for (let part = 0; part < 3; part += 1) image.data[at + part] = 255 * colour[part] + 0.5;
        image.data[at + 3] = 255;
      }
    }
    this.context.putImageData(image, 0, 0);
  }

  /** The colours as they were drawn last, row by row from the north. */
  pixels() {
    const { width, height } = this.sampled;
    return this.context.getImageData(0, 0, width, height).data;
  }
}

/** The colours of the server as numbers. */
export function palette(colours) {
  const single = Object.entries(colours).filter(([, value]) => typeof value === "string");
  return {
    ...Object.fromEntries(single.map(([name, hex]) => [name, rgbOf(hex)])),
    ground: colours.ground.map(rgbOf),
    days: colours.days.map(rgbOf),
  };
}

/** Between the four cells about a place, of those that are known; least: their weight at least. */
export function smooth(plane, row, col, least) {
  if (!plane) return NONE;
  const down = (row + 0.5) / plane.every - 0.5;
  const across = (col + 0.5) / plane.every - 0.5;
  const [top, left] = [Math.floor(down), Math.floor(across)];
  const [south, east] = [down - top, across - left];
  let sum = 0;
  let weight = 0;
  for (let corner = 0; corner < 4; corner += 1) {
    const [lower, right] = [corner >> 1, corner & 1];
    const r = Math.min(Math.max(top + lower, 0), plane.rows - 1);
    const c = Math.min(Math.max(left + right, 0), plane.cols - 1);
    const value = plane.values[r * plane.cols + c];
    if (value === NONE) continue;
    const share = (lower ? south : 1 - south) * (right ? east : 1 - east);
    sum += share * value;
    weight += share;
  }
  return weight >= least ? Math.floor(sum / weight + 0.5) : NONE;
}

function slope(heights, [rowUp, colUp, rowDown, colDown], here, run) {
  const up = smooth(heights, rowUp, colUp, 0.01);
  const down = smooth(heights, rowDown, colDown, 0.01);
  const rise = (up === NONE ? here : up) - (down === NONE ? here : down);
  return Math.floor(Math.min(Math.max(FLAT + (STEEPNESS * rise) / run, 0), NONE) + 0.5);
}

/** Depth of the mist at a pixel, in steps of height; -1 where none lies, -2 off the ground. */
export function depthAt({ first, width, height }, x, y, look) {
  const [column, line] = [Math.min(Math.max(x, 0), width - 1), Math.min(Math.max(y, 0), height - 1)];
  const at = CHANNELS * (line * width + column);
  if (first[at] === NONE) return -2;
  if (look.kind === 1 && first[at + 1] <= look.top) return look.top - first[at];
  const isValley = look.kind === 2 && first[at + 2] !== NONE && first[at + 2] > first[at];
  return isValley ? first[at + 2] - first[at] : -1;
}

const mixed = (one, other, share) => one.map((part, at) => part + share * (other[at] - part));
const times = (colour, share) => colour.map((part) => part * share);
const tinted = (colour, tint, share) => colour.map((part, at) => part * (1 + share * (tint[at] - 1)));

/** The colour of a pixel, three numbers from 0 to 1; see shade.js for what each step means. */
export function shaded(sampled, x, y, look, colours) {
  const at = CHANNELS * (y * sampled.width + x);
  const [height, light] = [sampled.first[at], sampled.first[at + 3]];
  if (height === NONE) return colours.faint;
  const [slopeEast, slopeNorth, day, visible] = sampled.second.subarray(at, at + CHANNELS);
  const [east, north] = [slopeEast, slopeNorth].map((part) => (part - FLAT) / STEEPNESS);
  const isLit = light !== NONE && (look.evening ? light > look.minute : light <= look.minute);
  let colour = bare(height, east, north, look, colours);
  if (look.minute >= 0) {
    colour = isLit ? sunlit(colour, east, north, look, colours) : mixed(colour, colours.ridge_near, 0.4);
  }
  const depth = depthAt(sampled, x, y, look);
  if (depth >= 0) colour = misty(colour, depth * look.step_m, isLit, look, colours);
  colour = times(colour, 0.72 + 0.28 * look.dusk);
  if (isShore(sampled, x, y, depth, look)) colour = colours.shore;
  if (look.over && day !== NONE) colour = mixed(colour, colours.days[day - 1], 0.78);
  const isHatch = (x + y) % (7 * look.line) < 1.5 * look.line;
  if (look.hidden && visible === 0 && isHatch) colour = mixed(colour, colours.hidden, 0.6);
  return colour.map((part) => Math.min(Math.max(part, 0), 1));
}

function bare(height, east, north, look, colours) {
  const last = colours.ground.length - 1;
  const share = (height - look.lowest) / Math.max(look.highest - look.lowest, 1);
  const place = Math.min(Math.max(share, 0), 1) * last;
  const step = Math.min(Math.floor(place), last - 1);
  const tint = mixed(colours.ground[step], colours.ground[step + 1], place - step);
  const steep = Math.hypot(2 * east, 2 * north, 1);
  const relief = Math.max((east - north + Math.SQRT1_2) / steep, 0);
  return times(tint, 0.66 + 0.46 * relief);
}

function sunlit(colour, east, north, look, colours) {
  const [sunEast, sunNorth, sunUp] = look.sun;
  const face = (sunUp - east * sunEast - north * sunNorth) / Math.hypot(east, north, 1);
  const bright = 1 + 0.8 * Math.min(Math.max(face, 0), 0.35);
  return times(tinted(colour, colours.sun_glow, 0.75), bright);
}

function misty(colour, depth_m, isLit, look, colours) {
  let mist = mixed(colours.mist_thin, colours.mist_thick, 1 - Math.exp(-depth_m / 120));
  if (look.minute >= 0) {
    mist = isLit ? tinted(mist, colours.sun_glow, 0.6) : mixed(mist, colours.mist_deep, 0.8);
  }
  return mixed(colour, mist, 1 - 0.5 * Math.exp(-depth_m / 15));
}

function isShore(sampled, x, y, depth, look) {
  if (look.kind === 0) return false;
  const step = look.line > 1.5 ? 2 : 1;
  for (const [right, down] of [[step, 0], [-step, 0], [0, step], [0, -step]]) {
    const beside = depthAt(sampled, x + right, y + down, look);
    if (beside !== -2 && beside >= 0 !== depth >= 0) return true;
  }
  return false;
}
