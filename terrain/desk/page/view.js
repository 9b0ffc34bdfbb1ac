/** The view from the spot through the lens: what is drawn, and how one looks round in it. */

import { altitude, direction, distance, figure, made, metres } from "./words.js";
import { numbersOf, mistOf } from "./state.js";
import { newest, rest } from "./ask.js";
import { palette } from "./plain.js";
import { lookOf } from "./look.js";
import { drawn, mark, moveTo } from "./marks.js";
import { altitudeAt, altitudeOf, azimuthAt, mistAlong, paintScenery, pixelOf, Scenery } from "./seen.js";
import { SkyTable } from "./sky.js";

const WIDEST_PX = 1200;
const SKY_SHARE = 6;
const QUICK_MS = 400;
const SETTLED_MS = 350;
const TURN_SHARE = 0.1;
const SUMMITS_MOST = 8;
const SKY_STEP_DEG = 0.25;
const EYE_STEP_M = 50;
const FAR_AIR_DEG = 0.4;

/** How much a lens takes in across, degrees. */
export function fieldOf(focal_mm, across_mm) {
  return (2 * Math.atan(across_mm / (2 * focal_mm)) * 180) / Math.PI;
}

/** Gives a canvas the size of a picture; what has it already is left alone, which is quicker. */
function sizeTo(canvas, { width, height }) {
  if (canvas.width !== width) canvas.width = width;
  if (canvas.height !== height) canvas.height = height;
}

/** A picture beside the screen, made of its pixels. */
export class Layer {
  constructor() {
    this.canvas = new OffscreenCanvas(1, 1);
    this.context = this.canvas.getContext("2d", { willReadFrequently: true });
  }

  filled({ width, height }, draw) {
    sizeTo(this.canvas, { width, height });
    if (this.image?.width !== width || this.image.height !== height) this.image = new ImageData(width, height);
    draw(this.image);
    this.context.putImageData(this.image, 0, 0);
    return this.canvas;
  }
}

export class SpotView {
  constructor(bench, root) {
    Object.assign(this, bench, { bench, root });
    this.canvas = root.querySelector("canvas");
    this.signs = root.querySelector("svg");
    this.caption = document.getElementById("view-caption");
    this.summits = document.getElementById("view-summits");
    this.numbers = palette(bench.colours);
    this.askRound = newest();
    this.askFine = newest();
    this.askSky = newest();
    this.round = null;
    this.fine = null;
    this.kept = new Map();
    this.skies = new Map();
    this.layers = { sky: new Layer(), ground: new Layer() };
    this.isWaiting = false;
    this.listen();
    new ResizeObserver(() => this.change({ isNewFrame: true })).observe(root);
  }

  listen() {
    this.state.listen((changed) => {
      const any = (...names) => names.some((name) => changed.has(name));
      if (any("spot", "eye")) this.bringRound();
      else if (any("look", "lens", "hill")) this.change({ isNewFrame: true });
      else if (any("mist", "time", "end", "date")) this.change({});
    });
    this.supply.listen((kind) => {
      if (kind === "flood") this.bringRound();
      else if (["valley", "light", "sun"].includes(kind)) this.change({});
    });
    this.root.addEventListener("keydown", (event) => this.press(event));
    this.root.addEventListener("pointerdown", (event) => {
      this.root.setPointerCapture(event.pointerId);
      this.held = [event.clientX, event.clientY];
    });
    this.root.addEventListener("pointermove", (event) => this.drag(event));
    for (const end of ["pointerup", "pointercancel"]) {
      this.root.addEventListener(end, () => {
        this.held = null;
      });
    }
  }

  get isShown() {
    return Boolean(this.state.get("spot")) && this.root.clientWidth > 0;
  }

  /** The picture: its direction, field and pixels. */
  frame(share = 1) {
    const aim = this.bench.aim();
    const fine = Math.min(globalThis.devicePixelRatio || 1, 2);
    const width = Math.round(Math.min(this.root.clientWidth * fine, WIDEST_PX) * share);
    return { ...aim, width, height: Math.round((width * aim.down_deg) / aim.field_deg) };
  }

  get query() {
    const [lat_deg, lon_deg] = numbersOf(this.state.get("spot"));
    return { lat_deg, lon_deg, eye_m: this.state.get("eye") };
  }

  /** Looks all round from a new spot, coarsely, then into the frame. */
  async bringRound() {
    this.round = null;
    this.fine = null;
    this.root.hidden = !this.state.get("spot");
    document.getElementById("view-none").hidden = !this.root.hidden;
    if (!this.state.get("spot") || !this.supply.planes.flood) return;
    await this.guarded(async () => {
      const found = await this.askRound((signal) => this.sceneryOf(this.query, signal));
      if (!found) return;
      this.round = found;
      this.change({ isNewFrame: true });
    });
  }

  async bringFine() {
    if (!this.source.isServed || !this.isShown) return;
    await this.guarded(async () => {
      const found = await this.askFine(async (signal) => {
        await rest(SETTLED_MS, signal);
        const { azimuth_deg, altitude_deg, field_deg, down_deg, width } = this.frame();
        const round = (angle) => angle.toFixed(4);
        const part = {
          from_deg: round(azimuth_deg - field_deg / 2),
          to_deg: round(azimuth_deg + field_deg / 2),
          low_deg: round(Math.max(altitude_deg - down_deg / 2, -89)),
          high_deg: round(Math.min(altitude_deg + down_deg / 2, 89)),
          step_deg: Math.max(field_deg / width, 0.01).toFixed(5),
        };
        return this.sceneryOf({ ...this.query, ...part }, signal);
      });
      if (!found) return;
      this.fine = found;
      this.change({});
    });
  }

  async sceneryOf(query, signal) {
    const about = await this.source.seen(query, signal);
    return new Scenery(about, await this.source.seenPlanes(about.id, signal), this.supply);
  }

  async guarded(work) {
    try {
      await work();
    } catch (error) {
      this.voice.complain(`the view: ${error.message}`);
    }
  }

  /** Draws anew: quickly at first, and in full when nothing has changed for a while. */
  change({ isNewFrame = false }) {
    if (isNewFrame) {
      this.fine = null;
      this.bringFine();
    }
    clearTimeout(this.settling);
    this.settling = setTimeout(() => this.paint(1), QUICK_MS);
    if (this.isWaiting) return;
    this.isWaiting = true;
    requestAnimationFrame(() => {
      this.isWaiting = false;
      this.paint(0.5);
    });
  }

  paint(share) {
    const scenery = this.fine ?? this.round;
    if (!scenery || !this.isShown) return;
    const frame = this.frame(share);
    const look = lookOf(this.supply, this.supply.lattice.convergence(scenery.spot.row, scenery.spot.col));
    const { places, mists } = this.sightOf(scenery, frame, look);
    sizeTo(this.canvas, frame);
    const context = this.canvas.getContext("2d", { willReadFrequently: true });
    const sky = this.sky(scenery.eye_height_m);
    this.paintSky(context, frame, sky);
    this.paintSun(context, frame);
    const air = this.farAir(frame, sky);
    const draw = (image) => paintScenery(image, scenery, frame, places, mists, look, air, this.numbers);
    context.drawImage(this.layers.ground.filled(frame, draw), 0, 0);
    const { azimuth_deg, altitude_deg, field_deg } = frame;
    Object.assign(this.canvas.dataset, { azimuth_deg, altitude_deg, field_deg, fine: this.fine ? 1 : 0, share });
    if (share === 1) this.putSigns(scenery);
    else this.caption.textContent = this.describe(frame);
  }

  /** Which pixels of the planes a picture shows, and its mist: kept while they stay the same. */
  sightOf(scenery, frame, look) {
    const mist = mistOf(this.state.get("mist"));
    const valley = look.kind === 2 ? this.supply.planes.valley : null;
    const frameKey = JSON.stringify(frame);
    const key = `${frameKey} ${this.state.get("mist")}`;
    const last = this.kept.get(frame.width);
    if (last?.key === key && last.scenery === scenery && last.valley === valley) return last;
    const isSame = last?.scenery === scenery && last.frameKey === frameKey;
    const places = isSame ? last.places : scenery.places(frame);
    const mists = mistAlong(scenery, frame, places, mist, last?.mists);
    const found = { key, frameKey, scenery, valley, places, mists };
    this.kept.set(frame.width, found);
    return found;
  }

  /** The table of the sky at this minute, or the last one until it comes. */
  sky(eye_m) {
    const minute = this.supply.minute;
    if (!minute || !this.source.isServed) return null;
    const true_deg = minute.true_altitude_deg ?? minute.altitude_deg;
    const sun_deg = Math.round(true_deg / SKY_STEP_DEG) * SKY_STEP_DEG;
    const eye_height_m = Math.round(eye_m / EYE_STEP_M) * EYE_STEP_M;
    const key = `${sun_deg} ${eye_height_m}`;
    if (!this.skies.has(key)) this.bringSky(key, sun_deg, eye_height_m);
    else this.lastSky = this.skies.get(key);
    return this.lastSky ?? null;
  }

  bringSky(key, sun_deg, eye_height_m) {
    this.guarded(async () => {
      const ask = (signal) => this.source.sky(sun_deg, { eye_height_m }, signal);
      const found = await this.askSky(ask);
      if (!found) return;
      this.skies.set(key, new SkyTable(found));
      this.change({});
    });
  }

  paintSky(context, frame, sky) {
    const [width, height] = [frame.width, frame.height].map((px) => Math.ceil(px / SKY_SHARE));
    const sun_deg = this.supply.minute?.azimuth_deg ?? 0;
    const draw = (image) => {
      const small = { ...frame, width, height };
      for (let y = 0, at = 0; y < height; y += 1) {
        const altitude_deg = altitudeAt(small, y);
        for (let x = 0; x < width; x += 1, at += 4) {
          const colour = sky ? sky.colour(azimuthAt(small, x) - sun_deg, altitude_deg) : this.numbers.sky_low;
          for (let part = 0; part < 3; part += 1) image.data[at + part] = 255 * colour[part] + 0.5;
          image.data[at + 3] = 255;
        }
      }
    };
    const isSame = this.lastPainted?.sky === sky && this.lastPainted.frame === `${JSON.stringify(frame)} ${sun_deg}`;
    const { canvas } = this.layers.sky;
    const layer = isSame ? canvas : this.layers.sky.filled({ width, height }, draw);
    this.lastPainted = { sky, frame: `${JSON.stringify(frame)} ${sun_deg}` };
    context.drawImage(layer, 0, 0, frame.width, frame.height);
  }

  /** The colour that far ground pales to, for each column. */
  farAir(frame, sky) {
    const sun_deg = this.supply.minute?.azimuth_deg ?? 0;
    const air = new Float32Array(3 * frame.width);
    for (let x = 0; x < frame.width; x += 1) {
      const off = azimuthAt(frame, x) - sun_deg;
      const colour = sky ? sky.colour(off, FAR_AIR_DEG) : this.numbers.ridge_far;
      air.set(colour, 3 * x);
    }
    return air;
  }

  /** The sun's disc at its true size; ground and mist are drawn over it. */
  paintSun(context, frame) {
    const { minute, sun } = this.supply;
    if (!minute) return;
    const [x, y] = pixelOf(frame, minute.azimuth_deg, minute.altitude_deg);
    const radius = ((sun.semidiameter_deg ?? 0.2666) * frame.width) / frame.field_deg;
    context.beginPath();
    context.arc(x, y, radius, 0, 2 * Math.PI);
    context.fillStyle = "#fffdf4";
    context.fill();
    context.lineWidth = Math.max(frame.width / 600, 1);
    context.strokeStyle = this.bench.colours.sun;
    context.stroke();
  }

  /** Names nothing in the picture: discs with numbers, and the table beside says what they are. */
  putSigns(scenery) {
    const frame = { ...this.frame(), width: this.root.clientWidth, height: this.root.clientHeight };
    const signs = this.ticks(frame);
    const rows = [];
    const found = this.bench.supply.about.summits.map((summit) => this.sighted(summit, scenery, frame));
    const hill = this.bench.hill && this.sighted(this.bench.hill, scenery, frame);
    const shown = found.filter((each) => each?.isSeen && !this.bench.isHill(each.summit));
    const best = shown.sort((a, b) => b.summit.prominence_m - a.summit.prominence_m).slice(0, SUMMITS_MOST);
    best.sort((a, b) => a.x - b.x);
    for (const [number, each] of [...(hill ? [["", hill]] : []), ...best.map((one, at) => [`${at + 1}`, one])]) {
      const { summit, x, y } = each;
      const sign = mark(number ? "vantage" : "hill", number, summit.name || "a summit");
      moveTo(sign, x, Math.min(Math.max(y - 22, 14), frame.height - 14));
      sign.append(drawn("path", { class: "stem", d: `M0 12V${Math.min(20, frame.height)}` }));
      signs.push(sign);
      rows.push(this.rowOf(number, each));
    }
    this.signs.replaceChildren(...signs);
    this.summits.replaceChildren(...rows);
    this.summits.closest("table").hidden = !rows.length;
    this.caption.textContent = this.describe(frame);
  }

  rowOf(number, { summit, azimuth_deg, away_m, isSeen }) {
    const name = summit.name || "a summit";
    const cells = [metres(summit.height_m), distance(away_m), direction(azimuth_deg)];
    const label = made("th", { scope: "row" }, made("span", { class: number ? "disc" : "disc hill" }, number || "▲"));
    const said = isSeen ? name : `${name} (hidden)`;
    return made("tr", {}, label, made("td", {}, said), ...cells.map((each) => made("td", { class: "figure" }, each)));
  }

  /** Where a summit stands in the picture; null outside it. */
  sighted(summit, scenery, frame) {
    const { about, lattice } = this.supply;
    const { spot } = scenery;
    const [north, east] = [spot.row - summit.row, summit.col - spot.col];
    const away_m = Math.hypot(north, east) * about.cell_m;
    const turned = lattice.convergence(spot.row, spot.col);
    const azimuth_deg = (Math.atan2(east, north) * 180) / Math.PI + turned;
    const altitude_deg = altitudeOf(scenery.eye_height_m, summit.height_m, away_m);
    const [x, y] = pixelOf(frame, azimuth_deg, altitude_deg);
    if (x < 0 || x >= frame.width || y < 0 || y >= frame.height) return null;
    const isClear = (this.supply.mistTop(summit.row, summit.col) ?? -Infinity) < summit.height_m;
    const isSeen = isClear && this.isSeen(scenery, azimuth_deg, altitude_deg, away_m);
    return { summit, azimuth_deg, away_m, x, y, isSeen };
  }

  isSeen(scenery, azimuth_deg, altitude_deg, away_m) {
    const off = (((azimuth_deg - scenery.azimuth0_deg) % 360) + 360) % 360;
    const column = Math.round(off / scenery.step_deg);
    const row = Math.round((scenery.altitude_top_deg - altitude_deg) / scenery.step_deg);
    const near = [0, 1, 2, 3].map((down) => scenery.distance_m[(Math.max(row, 0) + down) * scenery.width + column]);
    return near.some((found_m) => Math.abs(found_m - away_m) < 0.06 * away_m + 60);
  }

  /** Degrees along the lower and the left edge. */
  ticks(frame) {
    const step = [1, 2, 5, 10, 20, 30].find((each) => frame.field_deg / each < 9) ?? 45;
    const signs = [];
    const first = Math.ceil((frame.azimuth_deg - frame.field_deg / 2) / step) * step;
    for (let angle = first; angle < frame.azimuth_deg + frame.field_deg / 2; angle += step) {
      const [x] = pixelOf(frame, angle, 0);
      if (x < 24 || x > frame.width - 24) continue;
      const words = drawn("text", { x, y: frame.height - 8, class: "tick" }, `${((angle % 360) + 360) % 360}°`);
      signs.push(drawn("path", { class: "tick", d: `M${x} ${frame.height}v-5` }), words);
    }
    return signs;
  }

  describe(frame) {
    const { minute } = this.supply;
    const field = `${figure(frame.field_deg)}° by ${figure(frame.down_deg)}°`;
    const lens = `Toward ${direction(frame.azimuth_deg)}; ${this.state.get("lens")} mm takes in ${field}.`;
    if (!minute) return lens;
    const sun = `At ${minute.clock} the sun's centre stands ${direction(minute.azimuth_deg)}, ${altitude(minute.altitude_deg)}.`;
    return `${lens} ${sun}`;
  }

  turn(right_deg, up_deg) {
    const { azimuth_deg, altitude_deg } = this.bench.aim();
    const turned = (((azimuth_deg + right_deg) % 360) + 360) % 360;
    const up = Math.min(Math.max(altitude_deg + up_deg, -50), 60);
    this.state.set({ look: `${turned.toFixed(3)},${up.toFixed(3)}` });
  }

  drag(event) {
    if (!this.held) return;
    const scale = this.bench.aim().field_deg / this.root.clientWidth;
    const [x, y] = this.held;
    this.held = [event.clientX, event.clientY];
    this.turn((x - event.clientX) * scale, (event.clientY - y) * scale);
  }

  press(event) {
    const ways = { ArrowUp: [0, 1], ArrowDown: [0, -1], ArrowLeft: [-1, 0], ArrowRight: [1, 0] };
    const way = ways[event.key];
    if (event.key === "Home") this.state.set({ look: "" });
    else if (way) {
      const step = this.bench.aim().field_deg * (event.shiftKey ? TURN_SHARE / 10 : TURN_SHARE);
      this.turn(way[0] * step, way[1] * step);
    } else return;
    event.preventDefault();
    this.voice.say(`looking ${direction(this.bench.aim().azimuth_deg)}`);
  }
}
