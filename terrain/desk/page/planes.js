/** Planes of 16 bits over the ground, and where their cells lie on the earth. */

export const NONE = 65535;

/** Values over all cells of the ground, or over every fourth; row 0 is the northernmost. */
export class Plane {
  /** every: cells of the ground to one of the plane, to each side. */
  constructor({ rows, cols, every = 1, values = new Uint16Array(rows * cols).fill(NONE) }) {
    Object.assign(this, { rows, cols, every, values });
  }

  /** The value of the cell that a place of the ground lies in; NONE outside. */
  at(row, col) {
    const mine = Math.round((row + 0.5) / this.every - 0.5);
    const across = Math.round((col + 0.5) / this.every - 0.5);
    const isInside = mine >= 0 && mine < this.rows && across >= 0 && across < this.cols;
    return isInside ? this.values[mine * this.cols + across] : NONE;
  }

  /** Puts the values of a tile in their place; row and col of its first cell, in its own cells. */
  put(values, row, col, rows, cols) {
    for (let down = 0; down < rows; down += 1) {
      const line = values.subarray(down * cols, (down + 1) * cols);
      this.values.set(line, (row + down) * this.cols + col);
    }
  }
}

/** A whole plane from its tiles; `ask` gives the values of a tile and its headers. */
export async function wholePlane(about, ask, every = 1) {
  const least = (count) => Math.ceil(count / every);
  const plane = new Plane({ rows: least(about.rows), cols: least(about.cols), every });
  let headers = null;
  for (const [number, tile] of about.tiles.entries()) {
    const answer = await ask(number);
    headers ??= answer.headers;
    const corner = [tile.row / every, tile.col / every];
    plane.put(answer.values, ...corner, least(tile.rows), least(tile.cols));
  }
  plane.headers = headers;
  return plane;
}

/** The lowest and the highest of a plane, as it counts. */
export function rangeOf(plane) {
  let lowest = NONE;
  let highest = 0;
  for (const value of plane.values) {
    if (value === NONE) continue;
    if (value < lowest) lowest = value;
    if (value > highest) highest = value;
  }
  return { lowest, highest };
}

/** Where the cells of a ground lie on the earth, from nodes a number of cells apart. */
export class Lattice {
  constructor({ every, rows, cols, lon_deg, lat_deg, convergence_deg }) {
    Object.assign(this, { every, rows, cols, lon_deg, lat_deg, convergence_deg });
  }

  /** Between the nodes; beyond them it goes on as it does at the edge. */
  between(values, row, col) {
    const down = row / this.every;
    const across = col / this.every;
    const top = Math.min(Math.max(Math.floor(down), 0), this.rows - 2);
    const left = Math.min(Math.max(Math.floor(across), 0), this.cols - 2);
    const at = top * this.cols + left;
    const [south, east] = [down - top, across - left];
    const upper = values[at] + east * (values[at + 1] - values[at]);
    const under = at + this.cols;
    const lower = values[under] + east * (values[under + 1] - values[under]);
    return upper + south * (lower - upper);
  }

  /** How far the grid's north points east of true north, degrees. */
  convergence(row, col) {
    return this.between(this.convergence_deg, row, col);
  }

  latlon(row, col) {
    return [this.between(this.lat_deg, row, col), this.between(this.lon_deg, row, col)];
  }

  /** The cell of a place, in parts of cells, by Newton's method. */
  rowcol(lat_deg, lon_deg) {
    let row = ((this.rows - 1) * this.every) / 2;
    let col = ((this.cols - 1) * this.every) / 2;
    for (let step = 0; step < 8; step += 1) {
      const [lat, lon] = this.latlon(row, col);
      const [latSouth, lonSouth] = this.latlon(row + 1, col);
      const [latEast, lonEast] = this.latlon(row, col + 1);
      const [a, b, c, d] = [latSouth - lat, latEast - lat, lonSouth - lon, lonEast - lon];
      const [up, over] = [lat_deg - lat, lon_deg - lon];
      const whole = a * d - b * c;
      row += (up * d - b * over) / whole;
      col += (a * over - up * c) / whole;
    }
    return [row, col];
  }
}

/** Colour of a text such as "#20262d" as three numbers, 0 to 1. */
export const rgbOf = (hex) => [1, 3, 5].map((at) => Number.parseInt(hex.slice(at, at + 2), 16) / 255);
