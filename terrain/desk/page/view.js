/** The view from the spot through the lens: what is drawn, and how one looks round in it. */

import { altitude, direction, figure, metres } from "./words.js";
import { numbersOf, mistOf } from "./state.js";
import { newest, rest } from "./ask.js";
import { palette } from "./plain.js";
import { lookOf } from "./look.js";
import { mistAlong, Scenery } from "./seen.js";
import { Picture } from "./picture.js";
import { ViewSigns } from "./signs.js";
import { SkyTable } from "./sky.js";

const WIDEST_PX = 1200;
const FULL_AFTER_MS = 400;
const REST_SHARE = 3;
const SETTLED_MS = 350;
const TURN_SHARE = 0.1;
const SKY_STEP_DEG = 0.25;
const EYE_STEP_M = 50;
const UNDER_SUMMIT = 0.12;
const OVER_SUMMIT = 0.35;
const SUN_ROOM_DEG = 1.2;

/** How much a lens takes in across, degrees. */
export function fieldOf(focal_mm, across_mm) {
  return (2 * Math.atan(across_mm / (2 * focal_mm)) * 180) / Math.PI;
}

/** The altitude of the middle of a picture of a hill, which takes in so much from top to bottom.
 *
 * The summit is a little above it, or below where the sun would be over the picture: that is seen
 * over the level or near it, and one who stands high looks down on the hill.
 */
export function aimAt(summit_deg, down_deg) {
  const toSky = Math.min(SUN_ROOM_DEG - down_deg / 2, summit_deg + OVER_SUMMIT * down_deg);
  return Math.max(summit_deg - UNDER_SUMMIT * down_deg, toSky);
}

export class SpotView {
  constructor(bench, root) {
    Object.assign(this, bench, { bench, root });
    this.canvas = root.querySelector("canvas");
    this.signs = new ViewSigns(bench, root.querySelector("svg"));
    this.caption = document.getElementById("view-caption");
    const look = { numbers: palette(bench.colours), edge: bench.colours.sun };
    this.picture = new Picture(this.canvas, { supply: bench.supply, ...look });
    this.askRound = newest();
    this.askFine = newest();
    this.round = null;
    this.fine = null;
    this.kept = new Map();
    this.skies = new Map();
    this.isWaiting = false;
    this.due = 0;
    this.size = { width: 0, height: 0 };
    this.listen();
    new ResizeObserver(([{ contentRect }]) => {
      const isNew = Math.abs(contentRect.width - this.size.width) > 1;
      this.size = contentRect;
      if (isNew) this.change({ isNewFrame: true });
    }).observe(root);
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
        this.state.write();
      });
    }
  }

  get isShown() {
    return Boolean(this.state.get("spot")) && this.size.width > 0;
  }

  /** The picture: its direction, field and pixels. */
  frame(share = 1) {
    const aim = this.bench.aim();
    const fine = Math.min(globalThis.devicePixelRatio || 1, 2);
    const width = Math.round(Math.min(this.size.width * fine, WIDEST_PX) * share);
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
    if (!this.isShown) return;
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
    // the one file has no finer view than toward the hill
    return about && new Scenery(about, await this.source.seenPlanes(about.id, signal), this.supply);
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
    this.settling = setTimeout(() => {
      this.settling = 0;
      this.paint(1);
    }, FULL_AFTER_MS);
    if (this.isWaiting || !this.isShown) return;
    this.isWaiting = true;
    setTimeout(() => requestAnimationFrame(() => this.paintQuickly()), this.due - performance.now());
  }

  /** Paints coarsely, and leaves the page three times as long to itself before it does so again. */
  paintQuickly() {
    this.isWaiting = false;
    // a frame that comes late must not put the quick picture over the full one
    if (!this.settling) return;
    const begun = performance.now();
    this.paint(0.5);
    const done = performance.now();
    this.due = done + REST_SHARE * (done - begun);
  }

  paint(share) {
    const scenery = this.fine ?? this.round;
    if (!scenery || !this.isShown) return;
    const frame = this.frame(share);
    const look = lookOf(this.supply, this.supply.lattice.convergence(scenery.spot.row, scenery.spot.col));
    const { places, mists } = this.sightOf(scenery, frame, look);
    this.picture.paint({ scenery, frame, places, mists, look }, this.sky(scenery.eye_height_m));
    const { azimuth_deg, altitude_deg, field_deg } = frame;
    Object.assign(this.canvas.dataset, { azimuth_deg, altitude_deg, field_deg, fine: this.fine ? 1 : 0, share });
    const onScreen = { ...frame, width: this.size.width, height: this.size.height };
    const { under_m } = scenery;
    this.caption.textContent = this.describe(onScreen, under_m);
    // what is said of the mist and what is named in the picture agree at once
    const isOther = (under_m === null) !== this.wasClear;
    this.wasClear = under_m === null;
    if (share === 1 || isOther) this.signs.put(scenery, onScreen, { frame, mists });
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

  /** The table of the sky at this minute if it has come, or the last one until it does. */
  sky(eye_m) {
    this.skyFor(eye_m).then((found) => {
      if (this.lastSky === found) return;
      this.lastSky = found;
      this.change({});
    });
    return this.lastSky ?? null;
  }

  /** The table of the sky at this minute over an eye; null where there is none. */
  skyFor(eye_m) {
    const { minute } = this.supply;
    if (!minute) return Promise.resolve(null);
    const true_deg = minute.true_altitude_deg ?? minute.altitude_deg;
    const sun_deg = Math.round(true_deg / SKY_STEP_DEG) * SKY_STEP_DEG;
    const eye_height_m = Math.round(eye_m / EYE_STEP_M) * EYE_STEP_M;
    const key = `${sun_deg} ${eye_height_m}`;
    if (!this.skies.has(key)) {
      const asked = this.source.sky(sun_deg, { eye_height_m });
      this.skies.set(key, asked.then((answer) => new SkyTable(answer), () => null));
    }
    return this.skies.get(key);
  }

  /** What the picture is of. under_m: how deep in the mist the spot lies, null where it is clear. */
  describe(frame, under_m) {
    const { minute } = this.supply;
    if (under_m !== null) {
      const words = `You stand ${metres(under_m)} under the mist, and see nothing but mist`;
      return `${words}: choose a higher spot or a lower mist.`;
    }
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
    const scale = this.bench.aim().field_deg / this.size.width;
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
