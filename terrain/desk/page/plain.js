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
export const IS_HIDDEN = 1024;

/** Names of the planes that a painter draws from. */
export const KINDS = ["heights", "flood", "valley", "light", "days", "visible"];

/** Two layers of four numbers to a pixel.
 *
 * first: height, the level at which mist comes, and the lowest and the highest of that level here and
 * in the pixels beside, between which a shore lies. second: slopes east and north, light, and the
 * day with whether it is visible. Of a mist along valley floors the level is its top, and the two
 * beside say whether a shore is here (0, 1) or not (0, 0).
 */
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

  /** view: row and col of the middle, cells to a pixel, cell_m, step_m, line (how wide a shore is,
   * in pixels), isValley; width and height; lowest and highest of the heights.
   */
  sample(view) {
    const sampled = new Sampled(view.width, view.height);
    this.sampled = sampled;
    Object.assign(this.canvas, { width: view.width, height: view.height });
    const { heights } = this.planes;
    if (!heights) return;
    for (let y = 0, at = 0; y < view.height; y += 1) {
      const row = view.row + (y + 0.5 - view.height / 2) * view.cells;
      for (let x = 0; x < view.width; x += 1, at += CHANNELS) {
        const col = view.col + (x + 0.5 - view.width / 2) * view.cells;
        const isOff = row < -0.5 || row >= heights.rows - 0.5 || col < -0.5 || col >= heights.cols - 0.5;
        if (!isOff) this.samplePixel(sampled, at, row, col, view);
      }
    }
  }

  samplePixel({ first, second }, at, row, col, view) {
    const { heights, light, days, visible } = this.planes;
    const height = smooth(heights, row, col, 0.5);
    if (height === NONE) return;
    first[at] = height;
    const mist = view.isValley ? this.valleyLevels : this.floodLevels;
    first.set(mist.call(this, row, col, view.line * view.cells, height), at + 1);
    const reach = Math.min(Math.max(view.cells, 1), REACH);
    const run = (2 * reach * view.cell_m) / view.step_m;
    second[at] = slope(heights, [row, col + reach, row, col - reach], height, run);
    second[at + 1] = slope(heights, [row - reach, col, row + reach, col], height, run);
    second[at + 2] = smooth(light, row, col, 0.5);
    const day = days?.at(row, col) ?? NONE;
    const seen = visible?.at(row, col) ?? NONE;
    second[at + 3] = (day === NONE ? 0 : day) + (seen === 0 ? IS_HIDDEN : 0);
  }

  floodLevels(row, col, aside) {
    const { flood } = this.planes;
    const here = smooth(flood, row, col, 0.5);
    const known = beside(row, col, aside).map((place) => smooth(flood, ...place, 0.5));
    const all = [here, ...known].filter((level) => level !== NONE);
    return all.length ? [here, Math.min(...all), Math.max(...all)] : [NONE, NONE, NONE];
  }

  valleyLevels(row, col, aside, height) {
    const { heights, valley } = this.planes;
    const here = smooth(valley, row, col, 0.01);
    const isMist = (top, ground) => top !== NONE && top > ground;
    const isShore = beside(row, col, aside).some((place) => {
      const ground = smooth(heights, ...place, 0.01);
      return ground !== NONE && isMist(smooth(valley, ...place, 0.01), ground) !== isMist(here, height);
    });
    return [here, 0, Number(isShore)];
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

/** The places beside one. */
function beside(row, col, aside) {
  return [[row, col + aside], [row, col - aside], [row + aside, col], [row - aside, col]];
}

export const mixed = (one, other, share) => one.map((part, at) => part + share * (other[at] - part));
export const times = (colour, share) => colour.map((part) => part * share);
export const tinted = (colour, tint, share) => colour.map((part, at) => part * (1 + share * (tint[at] - 1)));

/** The colour of a pixel, three numbers from 0 to 1; see glsl.js for the same. */
export function shaded(sampled, x, y, look, colours) {
  const at = CHANNELS * (y * sampled.width + x);
  const [height, level, lowest, highest] = sampled.first.subarray(at, at + CHANNELS);
  if (height === NONE) return colours.faint;
  const [slopeEast, slopeNorth, light, also] = sampled.second.subarray(at, at + CHANNELS);
  const [east, north] = [slopeEast, slopeNorth].map((part) => (part - FLAT) / STEEPNESS);
  const isLit = light !== NONE && (look.evening ? light > look.minute : light <= look.minute);
  let colour = bare(height, east, north, look, colours);
  if (look.minute >= 0) {
    colour = isLit ? sunlit(colour, east, north, look, colours) : mixed(colour, colours.ridge_near, 0.4);
  }
  const top = look.kind === 2 ? level : look.top;
  const isMist = look.kind === 2 ? level !== NONE && level > height : look.kind === 1 && level <= top;
  if (isMist) colour = misty(colour, (top - height) * look.step_m, isLit, look, colours);
  colour = times(colour, 0.72 + 0.28 * look.dusk);
  const shore = look.kind === 2 ? 0 : look.top;
  if (look.kind !== 0 && lowest <= shore && shore < highest) colour = colours.shore;
  const day = also % IS_HIDDEN;
  if (look.over && day > 0) colour = mixed(colour, colours.days[day - 1], 0.78);
  const isHatch = (x + y) % (7 * look.line) < 1.5 * look.line;
  if (look.hidden && also >= IS_HIDDEN && isHatch) colour = mixed(colour, colours.hidden, 0.6);
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
