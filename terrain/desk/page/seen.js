/** What is seen from a spot, from planes of distance, height and cell for each direction.
 *
 *            eye  . _  _ ray at altitude a: its height over the datum is
 *             |\        - _                h(d) = eye + d·tan a + c·d²,  c = (1 − k) / 2R
 *             | \           -  _    ____   so the ground is bent down by the earth, and the ray
 *      _______|__\______________ - /    \  up by the air, as in the rest of terrain
 *     mist ~~~~~~~~~~~~~~~~~~~~~~/~~~~~~~\   top of a level mist: one distance to a row of pixels
 */

import { NONE } from "./planes.js";

const EARTH_M = 6371000;
const REFRACTION = 0.13;
const BEND = (1 - REFRACTION) / (2 * EARTH_M);
const RADIANS = Math.PI / 180;
const HAZE_M = 11000;
const MURK_M = 140;
const EDGE = 1.12;

/** Planes of a view, as /seen.json tells of them. */
export class Scenery {
  constructor(about, planes, supply) {
    Object.assign(this, about);
    const count = about.width * about.height;
    const { cols } = supply.about;
    this.supply = supply;
    this.distance_m = new Float32Array(count).fill(Infinity);
    this.cell = new Int32Array(count).fill(-1);
    for (let at = 0; at < count; at += 1) {
      const steps = planes[at];
      if (steps === NONE) continue;
      this.distance_m[at] = 10 * (2 ** (steps / 256) - 1);
      this.cell[at] = planes[2 * count + at] * cols + planes[3 * count + at];
    }
    this.eye_height_m = about.spot.height_m + about.spot.eye_m;
    this.floor_m = Math.min(0, supply.heightOf(supply.range.lowest));
  }

  /** How deep the spot lies in the mist, metres; null where it is clear of it.
   *
   * As in the rest of terrain the mist on the ground of the spot counts, however high the eye is.
   */
  get under_m() {
    const top_m = this.supply.mistTop(this.spot.row, this.spot.col);
    return top_m === null ? null : Math.max(top_m - this.spot.height_m, 0);
  }

  /** Where in the planes a picture's columns and rows lie; -1 off them. */
  places(frame) {
    const columns = new Int32Array(frame.width);
    const rows = new Int32Array(frame.height);
    for (let x = 0; x < frame.width; x += 1) {
      const off = (((azimuthAt(frame, x) - this.azimuth0_deg) % 360) + 360) % 360;
      const column = Math.round(off / this.step_deg);
      const isRound = this.width * this.step_deg > 359;
      if (column < this.width) columns[x] = column;
      else columns[x] = isRound ? 0 : off > 359.9 ? 0 : -1;
    }
    for (let y = 0; y < frame.height; y += 1) {
      const row = Math.round((this.altitude_top_deg - altitudeAt(frame, y)) / this.step_deg);
      rows[y] = Math.min(Math.max(row, -1), this.height - 1);
    }
    return { columns, rows };
  }
}

/** The direction of a column of pixels; frame: azimuth_deg, altitude_deg of its middle, field_deg. */
export function azimuthAt(frame, x) {
  return frame.azimuth_deg + ((x + 0.5) / frame.width - 0.5) * frame.field_deg;
}

export function altitudeAt(frame, y) {
  return frame.altitude_deg + ((frame.height / 2 - y - 0.5) / frame.width) * frame.field_deg;
}

/** The pixel of a direction, in parts of pixels. */
export function pixelOf(frame, azimuth_deg, altitude_deg) {
  const off = ((((azimuth_deg - frame.azimuth_deg) % 360) + 540) % 360) - 180;
  const scale = frame.width / frame.field_deg;
  const y = frame.height / 2 - (altitude_deg - frame.altitude_deg) * scale;
  return [frame.width / 2 + off * scale, y];
}

/** How far off a ray from an eye comes down to a level top; Infinity where it never does. */
export function distanceToLevel(eye_m, top_m, altitude_deg) {
  const fall = -Math.tan(altitude_deg * RADIANS);
  const within = fall * fall - 4 * BEND * (eye_m - top_m);
  if (fall <= 0 || within < 0 || eye_m < top_m) return Infinity;
  return (2 * (eye_m - top_m)) / (fall + Math.sqrt(within));
}

/** The altitude at which a place is seen. */
export function altitudeOf(eye_m, height_m, distance_m) {
  return Math.atan2(height_m - eye_m - BEND * distance_m ** 2, distance_m) / RADIANS;
}

/** The distance to the mist along every ray of a picture, and the cell it lies over.
 *
 * Level mist: one distance a row, mist where the ground under it is flooded, and beyond the known
 * ground as at its edge. Other mist: each column is followed outward over the tops of its cells.
 * before: an answer whose room may be used again.
 */
export function mistAlong(scenery, frame, places, mist, before = null) {
  const count = frame.width * frame.height;
  const isAgain = before?.distance_m.length === count;
  const found = isAgain ? before : { distance_m: new Float32Array(count), cell: new Int32Array(count) };
  found.distance_m.fill(Infinity);
  found.cell.fill(-1);
  if (scenery.under_m !== null) return withinMist(scenery, found);
  if (mist.kind === "level") levelAlong(scenery, frame, places, mist.top_m, found);
  if (mist.kind === "valley") topsAlong(scenery, frame, places, found);
  return found;
}

function withinMist({ spot, supply }, found) {
  found.distance_m.fill(1);
  found.cell.fill(Math.round(spot.row) * supply.about.cols + Math.round(spot.col));
  return found;
}

function levelAlong(scenery, frame, places, top_m, found) {
  const { planes, about } = scenery.supply;
  if (!planes.flood) return;
  const flood = planes.flood.values;
  const top = scenery.supply.stepsOf(top_m);
  const ways = waysOf(scenery, frame);
  for (let y = 0, at = 0; y < frame.height; y += 1) {
    const away = distanceToLevel(scenery.eye_height_m, top_m, altitudeAt(frame, y));
    if (away === Infinity) {
      at += frame.width;
      continue;
    }
    const line = places.rows[y] * scenery.width;
    for (let x = 0; x < frame.width; x += 1, at += 1) {
      const column = places.columns[x];
      if (column < 0) continue;
      if (line >= 0 && away >= scenery.distance_m[line + column]) continue;
      const row = Math.round(scenery.spot.row - away * ways.north[x]);
      const col = Math.round(scenery.spot.col + away * ways.east[x]);
      const isKnown = row >= 0 && row < about.rows && col >= 0 && col < about.cols;
      const cell = isKnown ? row * about.cols + col : -1;
      if (isKnown && flood[cell] !== NONE && flood[cell] > top) continue;
      found.distance_m[at] = away;
      found.cell[at] = cell;
    }
  }
}

function topsAlong(scenery, frame, places, found) {
  const { planes, about } = scenery.supply;
  const tops = planes.valley?.values;
  if (!tops) return;
  const ways = waysOf(scenery, frame);
  const reach_m = Math.hypot(about.rows, about.cols) * about.cell_m;
  for (let x = 0; x < frame.width; x += 1) {
    let away = about.cell_m;
    for (; away < reach_m; away += Math.max(about.cell_m / 2, away / 400)) {
      const row = Math.round(scenery.spot.row - away * ways.north[x]);
      const col = Math.round(scenery.spot.col + away * ways.east[x]);
      if (row < 0 || row >= about.rows || col < 0 || col >= about.cols) break;
      const cell = row * about.cols + col;
      if (tops[cell] === NONE) continue;
      const top_m = scenery.supply.heightOf(tops[cell]);
      const altitude_deg = altitudeOf(scenery.eye_height_m, top_m, away);
      const highest = Math.ceil(pixelOf(frame, frame.azimuth_deg, altitude_deg)[1] - 0.5);
      // what lies nearer was taken before, so it is enough to go down to that
      for (let y = Math.max(highest, 0); y < frame.height; y += 1) {
        const at = y * frame.width + x;
        if (found.cell[at] >= 0) break;
        const line = places.rows[y] * scenery.width;
        const column = places.columns[x];
        if (column < 0 || (line >= 0 && scenery.distance_m[line + column] <= away)) break;
        found.distance_m[at] = away;
        found.cell[at] = cell;
      }
    }
  }
}

/** How many cells north and east a metre along each column of a picture goes, on the grid. */
function waysOf(scenery, frame) {
  const { spot, supply } = scenery;
  const turned_deg = supply.lattice.convergence(spot.row, spot.col);
  const angle = (x) => (azimuthAt(frame, x) - turned_deg) * RADIANS;
  const each = (turn) => Float64Array.from({ length: frame.width }, (_, x) => turn(angle(x)) / supply.about.cell_m);
  return { north: each(Math.cos), east: each(Math.sin) };
}

/** Draws ground and mist into an image with transparent sky.
 *
 * Where no ground is known under the horizon of the sea there is far air alone.
 * look: minute, evening (as the planes of light count), sun (east, north, up), dusk 0 to 1.
 * air: colour of the far air in each column. colours: as numbers from 0 to 1.
 */
export function paintScenery(image, scenery, frame, places, mists, look, air, colours) {
  const { data } = image;
  const { cell, distance_m } = scenery;
  const lights = lightsOf(scenery.supply, look);
  const dim = 0.45 + 0.55 * look.dusk;
  const mistColours = mistsOf(colours, dim);
  const bare = new Float64Array(3);
  for (let y = 0, at = 0; y < frame.height; y += 1) {
    const isUnderSea = distanceToLevel(scenery.eye_height_m, scenery.floor_m, altitudeAt(frame, y)) < Infinity;
    const line = places.rows[y] * scenery.width;
    const above = Math.max(places.rows[y] - 1, 0) * scenery.width;
    for (let x = 0; x < frame.width; x += 1, at += 1) {
      const column = places.columns[x];
      const out = 4 * at;
      const away = mists.distance_m[at];
      const here = line >= 0 && column >= 0 ? cell[line + column] : -1;
      if (here < 0 && away === Infinity && !isUnderSea) {
        data[out + 3] = 0;
        continue;
      }
      const ground_m = here < 0 ? Infinity : distance_m[line + column];
      let clear = 0;
      if (here >= 0) {
        const isRidge = distance_m[above + column] > EDGE * ground_m + 40;
        clear = Math.exp(-ground_m / HAZE_M) * (isRidge ? 0.86 : 1);
        groundColour(here, lights, look, colours, dim, bare);
      }
      const isMist = away < Infinity;
      const own = isMist ? mistColours[mists.cell[at] < 0 ? 0 : 1 + lights.litNumber(mists.cell[at])] : bare;
      const thick = isMist ? 1 - 0.45 * Math.exp(-(ground_m - away) / MURK_M) : 0;
      const near = isMist ? Math.exp(-away / (2 * HAZE_M)) : 0;
      for (let of = 0; of < 3; of += 1) {
        const far = air[3 * x + of];
        const ground = far + clear * (bare[of] - far);
        const mist = far + near * (own[of] - far);
        data[out + of] = 255 * (ground + thick * (mist - ground));
      }
      data[out + 3] = 255;
    }
  }
  drawShore(image, frame, mists, colours.shore);
}

/** Colours of mist: where its light is not known, in the shade, in the sun. */
function mistsOf(colours, dim) {
  const dimmed = (colour) => Float64Array.from(colour, (part) => part * dim);
  const warm = colours.mist_thick.map((part, of) => part * (0.5 + 0.5 * colours.sun_glow[of]));
  return [dimmed(colours.mist_thick), dimmed(colours.mist_deep), dimmed(warm), dimmed(colours.mist_thick)];
}

/** A fine line where mist begins under bare ground. */
function drawShore(image, frame, mists, shore) {
  for (let at = frame.width; at < frame.width * frame.height; at += 1) {
    const isMist = mists.distance_m[at] < Infinity;
    const isBare = mists.distance_m[at - frame.width] === Infinity;
    if (!isMist || !isBare || image.data[4 * (at - frame.width) + 3] === 0) continue;
    for (let of = 0; of < 3; of += 1) {
      image.data[4 * at + of] = 0.5 * image.data[4 * at + of] + 127 * shore[of];
    }
  }
}

/** Tells of cells whether the sun is on them: 1, 0, or 2 where that is not known. */
function lightsOf(supply, look) {
  const { light, heights } = supply.planes;
  const { cols } = supply.about;
  if (!light || look.minute < 0) return { litNumber: () => 2, heights, supply };
  const { every, values } = light;
  const { evening, minute } = look;
  const litNumber = (cell) => {
    const row = every === 1 ? 0 : Math.floor(Math.floor(cell / cols) / every);
    const comes = every === 1 ? values[cell] : values[row * light.cols + Math.floor((cell % cols) / every)];
    return comes !== NONE && (evening ? comes > minute : comes <= minute) ? 1 : 0;
  };
  return { litNumber, heights, supply };
}

/** Writes the colour of bare ground in its light into `into`, as it is close by. */
function groundColour(cell, lights, look, colours, dim, into) {
  const { cols, cell_m, heights: scale } = lights.supply.about;
  const { values } = lights.heights;
  const isEdge = cell % cols === 0 || cell % cols === cols - 1 || cell < cols || cell + cols >= values.length;
  const run = (2 * cell_m) / scale.step_m;
  const east = isEdge ? 0 : (values[cell + 1] - values[cell - 1]) / run;
  const north = isEdge ? 0 : (values[cell - cols] - values[cell + cols]) / run;
  const steep = Math.sqrt(1 + east * east + north * north);
  const face = Math.max((look.sun[2] + 0.15 - east * look.sun[0] - north * look.sun[1]) / steep, 0);
  const isLit = lights.litNumber(cell) === 1;
  const bright = (isLit ? 0.8 + 1.6 * face : 0.72 + 0.3 * face + 0.15 / steep) * dim;
  for (let of = 0; of < 3; of += 1) {
    const shade = colours.ridge_near[of];
    const sunny = (0.45 * shade + 0.4 * colours.ground[3][of]) * (0.5 + 0.5 * colours.sun_glow[of]);
    into[of] = Math.min((isLit ? sunny : shade) * bright, 1);
  }
}
