/** The signs over the map, drawn into its picture.
 *
 *     svg  -->  a picture as large as the map  -->  those of its squares where there is a sign
 */

import { program, unfiltered } from "./webgl.js";

const SQUARE_PX = 16;
const SHAPES = "circle, rect, path, text";

const PLACED = `#version 300 es
in vec2 corner;       // pixels, from the upper left
uniform vec2 size;
void main() {
  gl_Position = vec4(vec2(2.0, -2.0) * corner / size + vec2(-1.0, 1.0), 0.0, 1.0);
}`;
const COPIED = `#version 300 es
precision highp float;
uniform sampler2D signs;
out vec4 drawn;
void main() {
  ivec2 pixel = ivec2(gl_FragCoord.xy);
  drawn = texelFetch(signs, ivec2(pixel.x, textureSize(signs, 0).y - 1 - pixel.y), 0);
}`;

/** Signs on the picture of a WebGL2 context. */
export class Stamps {
  constructor(gl) {
    Object.assign(this, { gl, placing: program(gl, COPIED, PLACED), squares: gl.createBuffer(), count: 0 });
    this.places = gl.createVertexArray();
    gl.bindVertexArray(this.places);
    gl.bindBuffer(gl.ARRAY_BUFFER, this.squares);
    const corner = gl.getAttribLocation(this.placing.made, "corner");
    gl.enableVertexAttribArray(corner);
    gl.vertexAttribPointer(corner, 2, gl.FLOAT, false, 0, 0);
    gl.bindVertexArray(null);
  }

  /** Takes the signs of a drawing as they are now. scale: pixels of the picture to one of the page. */
  take(drawing, [width, height], scale) {
    const { gl } = this;
    const picture = new OffscreenCanvas(width, height);
    const context = picture.getContext("2d", { willReadFrequently: true });
    for (const shape of drawing.querySelectorAll(SHAPES)) drawShape(context, shape, scale);
    const corners = squaresOf(context.getImageData(0, 0, width, height));
    this.count = corners.length / 2;
    gl.bindBuffer(gl.ARRAY_BUFFER, this.squares);
    gl.bufferData(gl.ARRAY_BUFFER, new Float32Array(corners), gl.STATIC_DRAW);
    gl.deleteTexture(this.texture ?? null);
    this.texture = unfiltered(gl, gl.RGBA8, width, height);
    gl.pixelStorei(gl.UNPACK_PREMULTIPLY_ALPHA_WEBGL, true);
    gl.texSubImage2D(gl.TEXTURE_2D, 0, 0, 0, gl.RGBA, gl.UNSIGNED_BYTE, picture);
    gl.pixelStorei(gl.UNPACK_PREMULTIPLY_ALPHA_WEBGL, false);
  }

  /** Draws what was taken over what was drawn last. */
  draw() {
    const { gl, placing } = this;
    if (!this.count) return;
    const { width, height } = gl.canvas;
    gl.useProgram(placing.made);
    gl.uniform2f(placing.at("size"), width, height);
    gl.activeTexture(gl.TEXTURE0);
    gl.bindTexture(gl.TEXTURE_2D, this.texture);
    gl.uniform1i(placing.at("signs"), 0);
    gl.enable(gl.BLEND);
    gl.blendFunc(gl.ONE, gl.ONE_MINUS_SRC_ALPHA);
    gl.bindVertexArray(this.places);
    gl.drawArrays(gl.TRIANGLES, 0, this.count);
    gl.bindVertexArray(null);
    gl.disable(gl.BLEND);
  }
}

/** Draws a shape of a drawing as the page has it. */
function drawShape(context, shape, scale) {
  const style = getComputedStyle(shape);
  if (style.visibility === "hidden") return;
  const { a, b, c, d, e, f } = shape.getCTM();
  context.setTransform(...[a, b, c, d, e, f].map((part) => part * scale));
  Object.assign(context, { fillStyle: style.fill, strokeStyle: style.stroke });
  Object.assign(context, { globalAlpha: style.opacity, lineWidth: Number.parseFloat(style.strokeWidth) });
  if (shape.localName === "text") {
    Object.assign(context, { font: style.font, textAlign: "center" });
    context.fillText(shape.textContent, ...["x", "y"].map((name) => Number(shape.getAttribute(name))));
    return;
  }
  const outline = outlineOf(shape);
  if (style.fill !== "none") context.fill(outline);
  if (style.stroke !== "none") context.stroke(outline);
}

function outlineOf(shape) {
  const number = (name) => Number(shape.getAttribute(name));
  const outline = new Path2D(shape.localName === "path" ? shape.getAttribute("d") : "");
  if (shape.localName === "circle") outline.arc(number("cx"), number("cy"), number("r"), 0, 2 * Math.PI);
  if (shape.localName === "rect") {
    outline.roundRect(...["x", "y", "width", "height", "rx"].map(number));
  }
  return outline;
}

/** Two triangles for each square of a picture in which anything is drawn: their corners, pixels. */
function squaresOf({ data, width, height }) {
  const across = Math.ceil(width / SQUARE_PX);
  const found = new Set();
  for (let at = 3, pixel = 0; at < data.length; at += 4, pixel += 1) {
    if (!data[at]) continue;
    const [row, col] = [Math.floor(pixel / width), pixel % width].map((part) => Math.floor(part / SQUARE_PX));
    found.add(row * across + col);
  }
  return [...found].flatMap((square) => {
    const [top, left] = [Math.floor(square / across), square % across].map((part) => part * SQUARE_PX);
    const [bottom, right] = [top + SQUARE_PX, left + SQUARE_PX];
    return [left, top, right, top, left, bottom, left, bottom, right, top, right, bottom];
  });
}
