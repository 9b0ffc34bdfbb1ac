/** Programs and textures of WebGL2, as the painters of the map use them. */

const CORNERS = `#version 300 es
void main() {
  gl_Position = vec4(gl_VertexID == 1 ? 3.0 : -1.0, gl_VertexID == 2 ? 3.0 : -1.0, 0.0, 1.0);
}`;

/** A program, and where its uniforms are. vertex: one triangle over the whole picture if not given. */
export function program(gl, fragment, vertex = CORNERS) {
  const made = gl.createProgram();
  for (const [kind, text] of [[gl.VERTEX_SHADER, vertex], [gl.FRAGMENT_SHADER, fragment]]) {
    const shader = gl.createShader(kind);
    gl.shaderSource(shader, text);
    gl.compileShader(shader);
    gl.attachShader(made, shader);
    if (!gl.getShaderParameter(shader, gl.COMPILE_STATUS)) throw new Error(gl.getShaderInfoLog(shader));
  }
  gl.linkProgram(made);
  if (!gl.getProgramParameter(made, gl.LINK_STATUS)) throw new Error(gl.getProgramInfoLog(made));
  const places = new Map();
  const at = (name) => {
    if (!places.has(name)) places.set(name, gl.getUniformLocation(made, name));
    return places.get(name);
  };
  return { made, at };
}

/** A texture of which each value is read as it is. */
export function unfiltered(gl, format, width, height) {
  const texture = gl.createTexture();
  gl.bindTexture(gl.TEXTURE_2D, texture);
  gl.texStorage2D(gl.TEXTURE_2D, 1, format, width, height);
  gl.texParameteri(gl.TEXTURE_2D, gl.TEXTURE_MIN_FILTER, gl.NEAREST);
  gl.texParameteri(gl.TEXTURE_2D, gl.TEXTURE_MAG_FILTER, gl.NEAREST);
  return texture;
}

/** Puts a part of a plane, so wide in all, into a texture. */
export function upload(gl, texture, values, wide, row, col, rows, cols) {
  gl.bindTexture(gl.TEXTURE_2D, texture);
  gl.pixelStorei(gl.UNPACK_ALIGNMENT, 1);
  gl.pixelStorei(gl.UNPACK_ROW_LENGTH, wide);
  gl.pixelStorei(gl.UNPACK_SKIP_ROWS, row);
  gl.pixelStorei(gl.UNPACK_SKIP_PIXELS, col);
  const kind = [gl.RED_INTEGER, gl.UNSIGNED_SHORT];
  gl.texSubImage2D(gl.TEXTURE_2D, 0, 0, 0, cols, rows, ...kind, values);
  for (const name of ["ROW_LENGTH", "SKIP_ROWS", "SKIP_PIXELS"]) gl.pixelStorei(gl[`UNPACK_${name}`], 0);
}
