/** The map drawn by WebGL2, in two passes.
 *
 * Pan and zoom sample the planes, tile by tile, into three textures as large as the screen:
 *
 *     heights flood valley light days visible (a cell each)  -->  first, second, third (a pixel each)
 *
 * Mist and clock only shade those; second says which way the ground faces, and third is its colour
 * with the relief in it. Textures of whole numbers do not filter, so that between cells is worked
 * out here; 65535 is unknown. plain.js says the same without WebGL2. Where there is no graphics chip
 * a slider that moves shades every second pixel each way, and the whole when it rests, and a mist that
 * moves is laid over ground whose light is kept; the signs over the map are drawn into the same picture
 * meanwhile, since a layer over it costs as much as shading.
 */

import { NONE } from "./planes.js";
import { sizeTo } from "./picture.js";
import { KINDS, mixed, palette, REACH, times, tinted } from "./plain.js";
import { SAMPLE, shadeText, STEPS } from "./glsl.js";
import { Stamps } from "./stamps.js";
import { program, unfiltered, upload } from "./webgl.js";

const SIDE = 2048;
const EVERY_PX = 2;
const IN_SOFTWARE = /swiftshader|llvmpipe|softpipe|software|basic render/i;

/** Draws with WebGL2; throws where there is none. */
export class ShadePainter {
  constructor(canvas, colours) {
    const gl = canvas.getContext("webgl2", { alpha: false, antialias: false, depth: false });
    if (!gl) throw new Error("no WebGL2");
    Object.assign(this, { canvas, gl, colours: palette(colours), planes: {}, textures: {} });
    this.sampling = program(gl, SAMPLE);
    this.shadings = new Map();
    this.screen = gl.createFramebuffer();
    this.keeping = gl.createFramebuffer();
    this.isSlow = isSoftware(gl);
    this.stamps = new Stamps(gl);
    this.size = [0, 0];
    this.empty = unfiltered(gl, gl.R16UI, 1, 1);
    upload(gl, this.empty, new Uint16Array([NONE]), 1, 0, 0, 1, 1);
    this.ring = ringOf(gl, colours.days);
    this.setColours();
  }

  setColours() {
    const { gl, sampling, colours } = this;
    gl.useProgram(sampling.made);
    gl.uniform3fv(sampling.at("ground"), colours.ground.flat());
    gl.uniform3fv(sampling.at("faint"), colours.faint);
  }

  /** Takes a plane, or none, in place of the one of its kind before. */
  put(kind, plane) {
    for (const { texture } of this.textures[kind] ?? []) this.gl.deleteTexture(texture);
    this.planes[kind] = plane;
    this.textures[kind] = plane ? cut(this.gl, plane) : [];
  }

  sample(view) {
    const { gl, sampling } = this;
    const { width, height } = view;
    if (this.size[0] !== width || this.size[1] !== height) this.resize(width, height);
    this.keptOf = "";
    gl.bindFramebuffer(gl.FRAMEBUFFER, this.screen);
    gl.viewport(0, 0, width, height);
    for (const layer of [0, 1]) gl.clearBufferuiv(gl.COLOR, layer, [NONE, NONE, NONE, NONE]);
    gl.clearBufferfv(gl.COLOR, 2, [...this.colours.faint, 1]);
    if (!this.planes.heights) return;
    gl.useProgram(sampling.made);
    for (const name of ["lowest", "highest"]) gl.uniform1f(sampling.at(name), view[name]);
    gl.uniform2f(sampling.at("middle"), view.row, view.col);
    gl.uniform2f(sampling.at("size"), width, height);
    gl.uniform1f(sampling.at("cells"), view.cells);
    const reach = Math.min(Math.max(view.cells, 1), REACH);
    gl.uniform1f(sampling.at("run"), (2 * reach * view.cell_m) / view.step_m);
    gl.uniform1f(sampling.at("aside"), view.line * view.cells);
    gl.uniform1i(sampling.at("isValley"), Number(view.isValley));
    gl.enable(gl.SCISSOR_TEST);
    this.textures.heights.forEach((tile, number) => this.sampleTile(view, tile, number));
    gl.disable(gl.SCISSOR_TEST);
  }

  sampleTile(view, tile, number) {
    const { gl, sampling } = this;
    const { width, height } = view;
    const across = (col) => Math.round((col - 0.5 - view.col) / view.cells + width / 2);
    const down = (row) => Math.round((row - 0.5 - view.row) / view.cells + height / 2);
    const [left, right] = [across(tile.col), across(tile.col + tile.cols)];
    const [upper, lower] = [down(tile.row), down(tile.row + tile.rows)];
    if (right <= 0 || lower <= 0 || left >= width || upper >= height) return;
    gl.scissor(left, height - lower, right - left, lower - upper);
    KINDS.forEach((kind, unit) => {
      const found = this.textures[kind]?.[number];
      gl.activeTexture(gl.TEXTURE0 + unit);
      gl.bindTexture(gl.TEXTURE_2D, found?.texture ?? this.empty);
      gl.uniform1i(sampling.at(kind), unit);
      gl.uniform3fv(sampling.at(`${kind}At`), found?.at ?? [0, 0, 1]);
    });
    gl.drawArrays(gl.TRIANGLES, 0, 3);
  }

  resize(width, height) {
    const { gl } = this;
    this.size = [width, height];
    for (const texture of this.layers ?? []) gl.deleteTexture(texture);
    const formats = [gl.RGBA16UI, gl.RGBA16UI, gl.RGBA8];
    this.layers = formats.map((format) => unfiltered(gl, format, width, height));
    gl.bindFramebuffer(gl.FRAMEBUFFER, this.screen);
    this.layers.forEach((texture, layer) => {
      const place = gl.COLOR_ATTACHMENT0 + layer;
      gl.framebufferTexture2D(gl.FRAMEBUFFER, place, gl.TEXTURE_2D, texture, 0);
    });
    gl.drawBuffers([0, 1, 2].map((layer) => gl.COLOR_ATTACHMENT0 + layer));
    gl.deleteTexture(this.kept ?? null);
    this.keptSize = this.size.map((px) => Math.ceil(px / EVERY_PX));
    this.kept = unfiltered(gl, gl.RGBA8, ...this.keptSize);
    gl.bindFramebuffer(gl.FRAMEBUFFER, this.keeping);
    gl.framebufferTexture2D(gl.FRAMEBUFFER, gl.COLOR_ATTACHMENT0, gl.TEXTURE_2D, this.kept, 0);
  }

  /** Shades what was sampled. */
  shade(look) {
    this.shadeBy(1, look, STEPS.whole);
  }

  /** Takes the signs that are drawn with it while a slider moves. fine: pixels to one of the page. */
  takeSigns(drawing, fine) {
    this.stamps.take(drawing, this.size.map((px) => Math.ceil(px / EVERY_PX)), fine / EVERY_PX);
  }

  /** Shades it coarsely, with those signs over it. slid: what moves, "mist" or "time". */
  shadeQuickly(look, slid) {
    if (slid === "mist") this.keepLight(look);
    this.shadeBy(EVERY_PX, look, slid === "mist" ? STEPS.byMist : STEPS.whole);
    this.stamps.draw();
  }

  /** Keeps the ground in its light, which the mist over it does not change, until that is another. */
  keepLight(look) {
    const key = JSON.stringify({ ...look, top: 0 });
    if (this.keptOf === key) return;
    this.keptOf = key;
    this.gl.bindFramebuffer(this.gl.FRAMEBUFFER, this.keeping);
    this.shadeInto(this.keptSize, EVERY_PX, look, STEPS.keepLight);
  }

  /** Shades every so many pixels each way, into as many of the canvas. */
  shadeBy(every, look, step) {
    const [width, height] = this.size.map((px) => Math.ceil(px / every));
    sizeTo(this.canvas, { width, height });
    this.gl.bindFramebuffer(this.gl.FRAMEBUFFER, null);
    this.shadeInto([width, height], every, look, step);
  }

  shadeInto([width, height], every, look, step) {
    const { gl } = this;
    const shading = this.shadingOf(look, step);
    gl.viewport(0, 0, width, height);
    gl.useProgram(shading.made);
    gl.uniform1i(shading.at("every"), every);
    gl.uniform2f(shading.at("whole"), ...this.size);
    gl.uniform2f(shading.at("part"), width, height);
    const [first, second, third] = this.layers;
    // what is kept is not read while it is drawn
    const kept = step === STEPS.byMist ? this.kept : this.ring;
    Object.entries({ first, second, third, daysRing: this.ring, kept }).forEach(([name, texture], unit) => {
      gl.activeTexture(gl.TEXTURE0 + unit);
      gl.bindTexture(gl.TEXTURE_2D, texture);
      gl.uniform1i(shading.at(name), unit);
    });
    for (const name of ["step_m", "top", "line"]) gl.uniform1f(shading.at(name), look[name]);
    for (const [name, colour] of Object.entries(tints(this.colours, look))) gl.uniform3fv(shading.at(name), colour);
    gl.uniform2i(shading.at("lit"), ...litBetween(look));
    gl.uniform3fv(shading.at("sun"), look.sun);
    gl.drawArrays(gl.TRIANGLES, 0, 3);
  }

  /** The program for what is shown, made when that is first shown. */
  shadingOf({ kind, minute, over, hidden }, step) {
    const shown = { kind, light: minute >= 0, over, hidden, step };
    const key = JSON.stringify(shown);
    if (!this.shadings.has(key)) this.shadings.set(key, program(this.gl, shadeText(shown)));
    return this.shadings.get(key);
  }

  pixels() {
    const { gl, canvas } = this;
    const { width, height } = canvas;
    const upside = new Uint8Array(4 * width * height);
    gl.bindFramebuffer(gl.FRAMEBUFFER, null);
    gl.readPixels(0, 0, width, height, gl.RGBA, gl.UNSIGNED_BYTE, upside);
    const turned = new Uint8ClampedArray(upside.length);
    for (let row = 0; row < height; row += 1) {
      const from = 4 * width * (height - 1 - row);
      turned.set(upside.subarray(from, from + 4 * width), 4 * width * row);
    }
    return turned;
  }
}

/** Colours of ground and mist in the sun and in the shade, with the dusk in them. */
function tints(colours, look) {
  const { mist_thick, mist_thin, mist_deep, ridge_near, sun_glow, shore, hidden } = colours;
  const dim = 0.72 + 0.28 * look.dusk;
  const isLight = look.minute >= 0;
  const glowing = (colour, share) => times(isLight ? tinted(colour, sun_glow, share) : colour, dim);
  const deepened = (colour) => times(mixed(colour, mist_deep, 0.8), dim);
  return {
    ...{ shore, hidden_: hidden, lit_by: glowing([1, 1, 1], 0.75) },
    ...{ shade_by: times([0.6, 0.6, 0.6], dim), shade_add: times(ridge_near, 0.4 * dim) },
    ...{ lit_thick: glowing(mist_thick, 0.6), lit_thin: glowing(mist_thin, 0.6) },
    ...{ shade_thick: deepened(mist_thick), shade_thin: deepened(mist_thin) },
  };
}

/** Whether pixels are worked out by the processor itself. */
function isSoftware(gl) {
  const told = gl.getExtension("WEBGL_debug_renderer_info");
  return IN_SOFTWARE.test(gl.getParameter(told ? told.UNMASKED_RENDERER_WEBGL : gl.RENDERER));
}

/** The first and the last minute of light, of those in the planes, that lies on the ground now. */
function litBetween({ minute, evening }) {
  const now = Math.floor(minute);
  return evening ? [now + 1, NONE - 1] : [0, now];
}

/** The textures of a plane: squares of the ground, each with a rim of its neighbours. */
function cut(gl, plane) {
  const [side, rim] = [SIDE / plane.every, REACH / plane.every];
  const tiles = [];
  for (let row = 0; row < plane.rows; row += side) {
    for (let col = 0; col < plane.cols; col += side) {
      const [top, left] = [Math.max(row - rim, 0), Math.max(col - rim, 0)];
      const rows = Math.min(row + side + rim, plane.rows) - top;
      const cols = Math.min(col + side + rim, plane.cols) - left;
      const texture = unfiltered(gl, gl.R16UI, cols, rows);
      upload(gl, texture, plane.values, plane.cols, top, left, rows, cols);
      tiles.push({
        texture,
        at: [top, left, 1 / plane.every],
        row: row * plane.every,
        col: col * plane.every,
        rows: Math.min(side, plane.rows - row) * plane.every,
        cols: Math.min(side, plane.cols - col) * plane.every,
      });
    }
  }
  return tiles;
}

/** The colours of the days of the year, a pixel each. */
function ringOf(gl, days) {
  const texture = gl.createTexture();
  gl.bindTexture(gl.TEXTURE_2D, texture);
  const bytes = days.flatMap((hex) => [...[1, 3, 5].map((at) => Number.parseInt(hex.slice(at, at + 2), 16)), 255]);
  gl.texStorage2D(gl.TEXTURE_2D, 1, gl.RGBA8, days.length, 1);
  const kind = [gl.RGBA, gl.UNSIGNED_BYTE];
  gl.texSubImage2D(gl.TEXTURE_2D, 0, 0, 0, days.length, 1, ...kind, new Uint8Array(bytes));
  gl.texParameteri(gl.TEXTURE_2D, gl.TEXTURE_MIN_FILTER, gl.NEAREST);
  gl.texParameteri(gl.TEXTURE_2D, gl.TEXTURE_MAG_FILTER, gl.NEAREST);
  return texture;
}
