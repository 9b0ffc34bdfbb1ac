/** The map: ground, mist and light, the places on it, and how it is moved and pointed at. */

import { direction, distance, metres, place } from "./words.js";
import { mistOf, numbersOf } from "./state.js";
import { NONE } from "./planes.js";
import { sampledView, windowOn } from "./first.js";
import { lookOf } from "./look.js";
import { MapSigns, NEAR_PX } from "./placed.js";

const PAN_SHARE = 0.125;
const ZOOM = 1.4;
const CLICK_PX = 5;
const REST_MS = 250;
const SLID = ["mist", "time"];

export class GroundMap {
  /** bench: painter, supply, state, colours, voice, and what stands on the map (`vantages`). */
  constructor(bench, root) {
    Object.assign(this, bench, { bench });
    this.root = root;
    this.signs = new MapSigns(bench, root.querySelector("svg"));
    this.status = document.getElementById("status");
    this.canvas = this.painter.canvas;
    this.root.dataset.painter = this.painter.constructor.name;
    document.body.classList.toggle("slow", Boolean(this.painter.isSlow));
    this.pointers = new Map();
    this.isSampled = false;
    this.isWaiting = false;
    this.size = { width: root.clientWidth, height: root.clientHeight };
    this.listen();
    // asked for in a frame, the size has the whole page laid out again
    new ResizeObserver(([{ contentRect }]) => {
      this.size = contentRect;
      this.redraw(true);
    }).observe(root);
  }

  listen() {
    this.state.listen((changed) => {
      const slid = changed.size === 1 && SLID.find((name) => changed.has(name));
      if (slid) this.moveOn(slid);
      this.redraw(changed.has("map"));
      if (["spot", "hill", "look", "lens"].some((name) => changed.has(name))) this.placeSigns();
    });
    this.supply.listen((kind) => {
      if (kind === "busy") return;
      if (kind !== "sun") this.painter.put(kind, this.supply.planes[kind]);
      this.redraw(kind !== "sun");
    });
    const box = this.root;
    box.addEventListener("keydown", (event) => this.press(event));
    box.addEventListener("wheel", (event) => this.wheel(event), { passive: false });
    box.addEventListener("pointerdown", (event) => this.down(event));
    box.addEventListener("pointermove", (event) => this.move(event));
    for (const end of ["pointerup", "pointercancel"]) box.addEventListener(end, (event) => this.up(event));
    box.addEventListener("focus", () => this.point(this.view.row, this.view.col));
    document.getElementById("zoom-in").addEventListener("click", () => this.zoom(1 / ZOOM));
    document.getElementById("zoom-out").addEventListener("click", () => this.zoom(ZOOM));
    document.getElementById("zoom-whole").addEventListener("click", () => this.state.set({ map: "" }));
  }

  /** What is in the window: row and col of its middle, metres and cells to a pixel, its size. */
  get view() {
    return windowOn(this.supply.about, this.size, numbersOf(this.state.get("map")));
  }

  pixel(row, col, view = this.view) {
    return [view.width / 2 + (col - view.col) / view.cells, view.height / 2 + (row - view.row) / view.cells];
  }

  cell(x, y, view = this.view) {
    return [view.row + (y - view.height / 2) * view.cells, view.col + (x - view.width / 2) * view.cells];
  }

  /** A slider moves: until it rests a quick picture is enough. */
  moveOn(slid) {
    this.slid = slid;
    clearTimeout(this.moving);
    this.moving = setTimeout(() => {
      this.moving = 0;
      this.redraw(false);
    }, REST_MS);
  }

  /** Draws at the next frame; sampled: whether ground or window changed, and not the light alone. */
  redraw(sampled) {
    this.isSampled &&= !sampled;
    if (this.isWaiting) return;
    this.isWaiting = true;
    requestAnimationFrame(() => {
      this.isWaiting = false;
      this.draw();
    });
  }

  draw() {
    const view = this.view;
    if (!view.width || !view.height || !this.supply.planes.heights) return;
    const { about, lattice } = this.supply;
    const sampled = sampledView(view, about, this.supply.range);
    const fine = sampled.line;
    const isValley = mistOf(this.state.get("mist")).kind === "valley";
    if (!this.isSampled || this.sampledKind !== isValley) {
      this.painter.sample({ ...sampled, isValley });
      this.sampledKind = isValley;
      this.isSampled = true;
      this.placeSigns();
      Object.assign(this.canvas.dataset, { row: view.row, col: view.col, cells: sampled.cells });
    }
    const look = lookOf(this.supply, lattice.convergence(view.row, view.col));
    const isQuick = Boolean(this.moving && this.painter.isSlow);
    if (isQuick && !this.isStamped) this.painter.takeSigns(this.signs.drawing, fine);
    this.isStamped ||= isQuick;
    this.painter[isQuick ? "shadeQuickly" : "shade"]({ ...look, line: fine }, this.slid);
    this.root.classList.toggle("quick", isQuick);
  }

  placeSigns() {
    this.isStamped = false;
    this.signs.put(this.view, (row, col, view) => this.pixel(row, col, view));
  }

  /** Says what is at a place of the map, by its name where a sign stands there. */
  point(row, col) {
    const name = this.signs.nameAt(...this.pixel(row, col));
    if (this.root.title !== name) this.root.title = name;
    const line = `${name && `${name}: `}${this.describe(row, col)}`;
    this.status.textContent = line;
    return line;
  }

  describe(row, col) {
    const { supply } = this;
    const steps = supply.planes.heights?.at(row, col) ?? NONE;
    const where = place(...supply.lattice.latlon(row, col));
    if (steps === NONE) return `${where}: no ground is known there`;
    const height_m = supply.heightOf(steps);
    const top_m = supply.mistTop(row, col);
    const said = [where, metres(height_m)];
    if (top_m !== null) said.push(`in mist, ${metres(Math.max(top_m - height_m, 0))} deep`);
    const isLit = supply.isLit(row, col);
    if (isLit !== null) said.push(isLit ? "in the sun" : "in the shade");
    const spot = numbersOf(this.state.get("spot"));
    if (spot) said.push(this.fromSpot(row, col, spot));
    return said.join(", ");
  }

  fromSpot(row, col, spot) {
    const { lattice, about } = this.supply;
    const [here, across] = lattice.rowcol(...spot);
    const [north, east] = [here - row, col - across];
    const azimuth = (Math.atan2(east, north) * 180) / Math.PI + lattice.convergence(here, across);
    return `${distance(Math.hypot(north, east) * about.cell_m)} ${direction(azimuth)} of where you stand`;
  }

  /** Stands at a place of the map. */
  stand(row, col) {
    const [lat, lon] = this.supply.lattice.latlon(row, col);
    if ((this.supply.planes.heights?.at(row, col) ?? NONE) === NONE) {
      this.voice.complain("no ground is known there: choose another place");
      return;
    }
    this.bench.standAt(lat, lon);
  }

  /** What a click stands for: a summit becomes the hill, another place is stood at. */
  choose(x, y) {
    const view = this.view;
    const isNear = ({ row, col }) => {
      const [across, down] = this.pixel(row, col, view);
      return Math.hypot(across - x, down - y) < NEAR_PX;
    };
    const { about, lattice } = this.supply;
    const withCell = (each) => {
      const [row, col] = lattice.rowcol(each.lat_deg, each.lon_deg);
      return { ...each, row, col };
    };
    const standing = [...this.bench.vantages.map(withCell), ...about.places].find(isNear);
    if (standing) this.bench.standAt(standing.lat_deg, standing.lon_deg);
    else {
      const summit = this.signs.summits.find(isNear);
      if (summit && !this.bench.isHill(summit)) this.bench.chooseHill(summit);
      else this.stand(...this.cell(x, y, view));
    }
  }

  /** The window that holds some cells, with as much again about them, in the words of the address. */
  windowOf(cells) {
    const view = this.view;
    const width = view.width || globalThis.innerWidth;
    const height = view.height || globalThis.innerHeight / 2;
    const ends = [0, 1].map((part) => cells.map((cell) => cell[part]));
    const [down, across] = ends.map((all) => Math.max(...all) - Math.min(...all));
    const [row, col] = ends.map((all) => (Math.max(...all) + Math.min(...all)) / 2);
    return this.windowText(row, col, 2 * this.supply.about.cell_m * Math.max(down / height, across / width));
  }

  moveTo(row, col, scale_m) {
    this.state.set({ map: this.windowText(row, col, scale_m) });
  }

  windowText(row, col, scale_m) {
    const { about } = this.supply;
    const within = (value, count) => Math.min(Math.max(value, 0), count - 1);
    const least = about.cell_m / 40;
    const scale = Math.min(Math.max(scale_m, least), 1.5 * this.view.whole_m);
    const cell = [within(row, about.rows), within(col, about.cols)].map((part) => part.toFixed(2));
    return `${cell.join(",")},${scale.toFixed(3)}`;
  }

  /** Zooms by a share, keeping a pixel where it is; the middle unless given. */
  zoom(share, x = this.view.width / 2, y = this.view.height / 2) {
    const view = this.view;
    const [row, col] = this.cell(x, y, view);
    this.moveTo(row + (view.row - row) * share, col + (view.col - col) * share, view.scale_m * share);
  }

  press(event) {
    const ways = { ArrowUp: [-1, 0], ArrowDown: [1, 0], ArrowLeft: [0, -1], ArrowRight: [0, 1] };
    const view = this.view;
    if (event.ctrlKey || event.metaKey || event.altKey) return;
    if (ways[event.key]) {
      const step = (event.shiftKey ? 0.02 : PAN_SHARE) * Math.min(view.width, view.height) * view.cells;
      const [down, across] = ways[event.key];
      this.moveTo(view.row + down * step, view.col + across * step, view.scale_m);
    } else if (event.key === "+" || event.key === "=") this.zoom(1 / ZOOM);
    else if (event.key === "-") this.zoom(ZOOM);
    else if (event.key === "Enter") this.stand(view.row, view.col);
    else return;
    event.preventDefault();
    const { row, col } = this.view;
    const line = this.point(row, col);
    if (event.key !== "Enter") this.voice.say(line);
  }

  wheel(event) {
    event.preventDefault();
    const [x, y] = this.inside(event);
    this.zoom(1.0015 ** event.deltaY, x, y);
  }

  inside(event) {
    const box = this.root.getBoundingClientRect();
    return [event.clientX - box.left, event.clientY - box.top];
  }

  down(event) {
    if (event.target.closest("button")) return;
    this.root.setPointerCapture(event.pointerId);
    this.pointers.set(event.pointerId, this.inside(event));
    this.travelled = this.pointers.size > 1 ? Infinity : 0;
  }

  move(event) {
    const [x, y] = this.inside(event);
    const before = this.pointers.get(event.pointerId);
    if (!before) {
      this.point(...this.cell(x, y));
      return;
    }
    this.travelled += Math.hypot(x - before[0], y - before[1]);
    const other = [...this.pointers].find(([id]) => id !== event.pointerId)?.[1];
    this.pointers.set(event.pointerId, [x, y]);
    const view = this.view;
    if (other) {
      const gap = (from) => Math.hypot(from[0] - other[0], from[1] - other[1]);
      this.zoom(gap(before) / Math.max(gap([x, y]), 1), (x + other[0]) / 2, (y + other[1]) / 2);
    } else if (this.travelled > CLICK_PX) {
      const { row, col, cells, scale_m } = view;
      this.moveTo(row - (y - before[1]) * cells, col - (x - before[0]) * cells, scale_m);
    }
  }

  up(event) {
    const isClick = this.pointers.delete(event.pointerId) && this.travelled <= CLICK_PX;
    if (isClick && event.type === "pointerup") this.choose(...this.inside(event));
    else this.state.write();
  }
}
