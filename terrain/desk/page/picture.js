/** A picture of a view: sky, the sun's disc, and before them ground and mist. */

import { altitudeAt, azimuthAt, paintScenery, pixelOf } from "./seen.js";

const SKY_SHARE = 6;
const FAR_AIR_DEG = 0.4;
const SUN_WHITE = "#fffdf4";
const SEMIDIAMETER_DEG = 0.2666;

/** Gives a canvas the size of a picture; what has it already is left alone, which is quicker. */
export function sizeTo(canvas, { width, height }) {
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

/** Draws pictures on a canvas, and keeps the sky while that stays the same. */
export class Picture {
  /** supply: knows the sun. numbers: colours from 0 to 1. edge: colour of the rim of the sun. */
  constructor(canvas, { supply, numbers, edge }) {
    Object.assign(this, { canvas, supply, numbers, edge });
    this.layers = { sky: new Layer(), ground: new Layer() };
  }

  /** of: scenery, frame, places, mists and look, as paintScenery takes them; sky: its table, or null. */
  paint(of, sky) {
    const { scenery, frame, places, mists, look } = of;
    sizeTo(this.canvas, frame);
    const context = this.canvas.getContext("2d", { willReadFrequently: true });
    context.drawImage(this.skyOf(frame, sky), 0, 0, frame.width, frame.height);
    this.paintSun(context, frame);
    const air = this.farAir(frame, sky);
    const draw = (image) => paintScenery(image, scenery, frame, places, mists, look, air, this.numbers);
    context.drawImage(this.layers.ground.filled(frame, draw), 0, 0);
  }

  get sunAzimuth() {
    return this.supply.minute?.azimuth_deg ?? 0;
  }

  skyOf(frame, sky) {
    const key = `${JSON.stringify(frame)} ${this.sunAzimuth}`;
    const isSame = this.last?.sky === sky && this.last.key === key;
    this.last = { sky, key };
    if (isSame) return this.layers.sky.canvas;
    const [width, height] = [frame.width, frame.height].map((px) => Math.ceil(px / SKY_SHARE));
    const small = { ...frame, width, height };
    return this.layers.sky.filled(small, (image) => this.fillSky(image, small, sky));
  }

  fillSky(image, frame, sky) {
    for (let y = 0, at = 0; y < frame.height; y += 1) {
      const altitude_deg = altitudeAt(frame, y);
      for (let x = 0; x < frame.width; x += 1, at += 4) {
        const aside_deg = azimuthAt(frame, x) - this.sunAzimuth;
        const colour = sky ? sky.colour(aside_deg, altitude_deg) : this.numbers.sky_low;
        for (let part = 0; part < 3; part += 1) image.data[at + part] = 255 * colour[part] + 0.5;
        image.data[at + 3] = 255;
      }
    }
  }

  /** The colour that far ground pales to, for each column. */
  farAir(frame, sky) {
    const air = new Float32Array(3 * frame.width);
    for (let x = 0; x < frame.width; x += 1) {
      const aside_deg = azimuthAt(frame, x) - this.sunAzimuth;
      air.set(sky ? sky.colour(aside_deg, FAR_AIR_DEG) : this.numbers.ridge_far, 3 * x);
    }
    return air;
  }

  /** The sun's disc at its true size; ground and mist are drawn over it. */
  paintSun(context, frame) {
    const { minute, sun } = this.supply;
    if (!minute) return;
    const [x, y] = pixelOf(frame, minute.azimuth_deg, minute.altitude_deg);
    const radius = ((sun.semidiameter_deg ?? SEMIDIAMETER_DEG) * frame.width) / frame.field_deg;
    context.beginPath();
    context.arc(x, y, radius, 0, 2 * Math.PI);
    context.fillStyle = SUN_WHITE;
    context.fill();
    context.lineWidth = Math.max(frame.width / 600, 1);
    context.strokeStyle = this.edge;
    context.stroke();
  }
}
