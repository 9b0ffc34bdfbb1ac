/** What stands on the map: hill and summits, starts and places, those that were found, the spot. */

import { distance, metres } from "./words.js";
import { numbersOf } from "./state.js";
import { drawn, mark, moveTo, roundLength } from "./marks.js";

const SCALE_BAR_PX = 130;
const SHOWN_MOST = 60;
const SHOWN_APART_PX = 18;

/** How near to a sign one points at it. */
export const NEAR_PX = 14;
const COVERED_PX = 4;

/** The summits that stand in a window: the most prominent first, none so near another that both
 * would be one blot, and so more of them the nearer one looks.
 *
 * byProminence: all of them, that first; pixel: where a cell is in the window.
 */
export function standingOut(byProminence, view, pixel) {
  const taken = [];
  for (const summit of byProminence) {
    if (taken.length === SHOWN_MOST) break;
    const [x, y] = pixel(summit.row, summit.col, view);
    if (x < 0 || x > view.width || y < 0 || y > view.height) continue;
    const isClear = taken.every((other) => Math.hypot(other.x - x, other.y - y) >= SHOWN_APART_PX);
    if (isClear) taken.push({ summit, x, y });
  }
  return taken.map(({ summit }) => summit);
}

export class MapSigns {
  constructor(bench, drawing) {
    const prominence = ({ prominence_m }) => prominence_m ?? Infinity;
    const byProminence = [...bench.supply.about.summits].sort((one, other) => prominence(other) - prominence(one));
    Object.assign(this, bench, { bench, drawing, byProminence, summits: [], named: [] });
  }

  /** What stands at a pixel, in words, of several the nearest or what covers it; "" for nothing. */
  nameAt(x, y) {
    const off = ({ at }) => Math.floor(Math.hypot(at[0] - x, at[1] - y) / COVERED_PX);
    const near = this.named.filter((each) => COVERED_PX * off(each) < NEAR_PX).reverse();
    return near.sort((one, other) => off(one) - off(other))[0]?.words ?? "";
  }

  /** view: what is in the window. pixel: where a cell is in it. */
  put(view, pixel) {
    const { about, lattice } = this.supply;
    const put = (sign, row, col) => moveTo(sign, ...pixel(row, col, view));
    const signs = [];
    this.named = [];
    const add = (kind, text, words, row, col) => {
      const sign = mark(kind, text, words);
      put(sign, row, col);
      signs.push(sign);
      this.named.push({ words, at: pixel(row, col, view) });
    };
    this.summits = standingOut(this.byProminence, view, pixel);
    for (const summit of this.summits) {
      const isHill = this.bench.isHill(summit);
      if (!isHill) add("summit", "", `${summit.name || "a summit"}, ${metres(summit.height_m)}`, summit.row, summit.col);
    }
    const letters = "ABCDEFGHIJKLMNOPQRSTUVWXYZ";
    const starts = about.places.filter(({ kind }) => kind === "start");
    const places = about.places.filter(({ kind }) => kind === "place");
    for (const { name, row, col } of places) add("place", "", name, row, col);
    starts.forEach(({ name, row, col }, number) => add("start", letters[number % 26], `${name}, where a walk starts`, row, col));
    const hill = this.bench.hill;
    if (hill) add("hill", "", `${hill.name || "a summit"}, ${metres(hill.height_m)}, the hill`, hill.row, hill.col);
    this.bench.vantages.forEach(({ lat_deg, lon_deg }, number) => {
      add("vantage", `${number + 1}`, `place ${number + 1}`, ...lattice.rowcol(lat_deg, lon_deg));
    });
    const spot = numbersOf(this.state.get("spot"));
    if (spot) {
      const [row, col] = lattice.rowcol(...spot);
      signs.push(this.sightOf(row, col, view, pixel));
      add("spot", "", "where you stand", row, col);
    }
    const cross = mark("cross", "", "the middle of the map");
    moveTo(cross, view.width / 2, view.height / 2);
    this.drawing.replaceChildren(...signs, cross, ...this.frameSigns(view));
  }

  /** What the lens takes in from the spot, as two short sides of it. */
  sightOf(row, col, view, pixel) {
    const { azimuth_deg, field_deg } = this.bench.aim();
    const turned = azimuth_deg - this.supply.lattice.convergence(row, col);
    const ends = [-0.5, 0.5].map((side) => ((turned + side * field_deg) * Math.PI) / 180);
    const points = ends.map((end) => `M${12 * Math.sin(end)} ${-12 * Math.cos(end)}L${60 * Math.sin(end)} ${-60 * Math.cos(end)}`);
    const sign = mark("frame", points.join(""), "what the lens takes in");
    moveTo(sign, ...pixel(row, col, view));
    return sign;
  }

  /** Scale bar and north. */
  frameSigns(view) {
    const length_m = roundLength(SCALE_BAR_PX * view.scale_m);
    const length = length_m / view.scale_m;
    const turned = -this.supply.lattice.convergence(view.row, view.col);
    const bottom = view.height - 14;
    const bar = drawn("g", { class: "scale", transform: `translate(14 ${bottom})` });
    const panel = drawn("rect", { x: -6, y: -24, width: length + 46, height: 32, rx: 3, class: "panel" });
    const ends = drawn("path", { d: `M0-5V0H${length}V-5` });
    const words = drawn("text", { x: length / 2, y: -9 }, distance(length_m));
    const north = drawn("g", { transform: `translate(${length + 22} -8) rotate(${turned})` });
    north.append(drawn("path", { class: "north", d: "M0-11 5 8 0 4-5 8Z" }), drawn("title", {}, "north is up there"));
    bar.append(panel, ends, words, north);
    return [bar];
  }
}
