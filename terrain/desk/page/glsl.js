/** The two passes of shade.js in the language of WebGL2; plain.js says the same step by step. */

import { NONE } from "./planes.js";
import { FLAT, IS_HIDDEN, REACH, STEEPNESS } from "./plain.js";

const HEAD = `#version 300 es
precision highp float;
precision highp int;
precision highp usampler2D;
const uint NONE = ${NONE}u;
const float FLAT = ${FLAT}.0;
const float STEEPEST = ${(FLAT / STEEPNESS).toFixed(2)};
`;

export const SAMPLE = `${HEAD}
uniform usampler2D heights, flood, valley, light, days, visible;
uniform vec3 heightsAt, floodAt, valleyAt, lightAt, daysAt, visibleAt;  // first row and col, scale
uniform vec2 middle;      // row and col at the middle of the screen
uniform vec2 size;        // of the screen, pixels
uniform float cells;      // to a pixel
uniform float run;        // from one side of a slope to the other, in steps of height
uniform float aside;      // cells to the pixels beside, between which a shore lies
uniform bool isValley;
uniform vec3 ground[16];
uniform vec3 faint;
uniform float lowest, highest;
layout(location = 0) out uvec4 first;
layout(location = 1) out uvec4 second;
layout(location = 2) out vec4 third;

uint smooth_at(usampler2D plane, vec3 at, vec2 cell, float least) {
  vec2 place = (cell + 0.5) * at.z - 0.5 - at.xy;
  vec2 corner = floor(place);
  vec2 part = place - corner;
  ivec2 last = textureSize(plane, 0).yx - 1;
  float sum = 0.0;
  float weight = 0.0;
  for (int each = 0; each < 4; each++) {
    ivec2 side = ivec2(each >> 1, each & 1);
    ivec2 there = clamp(ivec2(corner) + side, ivec2(0), last);
    uint value = texelFetch(plane, there.yx, 0).r;
    if (value == NONE) continue;
    vec2 share = mix(1.0 - part, part, vec2(side));
    sum += share.x * share.y * float(value);
    weight += share.x * share.y;
  }
  return weight >= least ? uint(floor(sum / weight + 0.5)) : NONE;
}

uint nearest(usampler2D plane, vec3 at, vec2 cell) {
  ivec2 there = ivec2(floor((cell + 0.5) * at.z - at.xy));
  ivec2 count = textureSize(plane, 0).yx;
  bool isInside = all(greaterThanEqual(there, ivec2(0))) && all(lessThan(there, count));
  return isInside ? texelFetch(plane, there.yx, 0).r : NONE;
}

float slope(vec2 up, vec2 down, uint here) {
  uint upper = smooth_at(heights, heightsAt, up, 0.01);
  uint lower = smooth_at(heights, heightsAt, down, 0.01);
  float rise = float(upper == NONE ? here : upper) - float(lower == NONE ? here : lower);
  return clamp(rise / run, -STEEPEST, STEEPEST);
}

uvec3 flood_levels(vec2 cell) {
  uint here = smooth_at(flood, floodAt, cell, 0.5);
  uint lowest = here;
  uint highest = here == NONE ? 0u : here;
  for (int each = 0; each < 4; each++) {
    float way = each < 2 ? aside : -aside;
    vec2 there = cell + (each % 2 == 0 ? vec2(0.0, way) : vec2(way, 0.0));
    uint level = smooth_at(flood, floodAt, there, 0.5);
    if (level == NONE) continue;
    lowest = min(lowest, level);
    highest = max(highest, level);
  }
  return uvec3(here, lowest, lowest == NONE ? NONE : highest);
}

uvec3 valley_levels(vec2 cell, uint height) {
  uint here = smooth_at(valley, valleyAt, cell, 0.01);
  bool isMist = here != NONE && here > height;
  uint isShore = 0u;
  for (int each = 0; each < 4; each++) {
    float way = each < 2 ? aside : -aside;
    vec2 there = cell + (each % 2 == 0 ? vec2(0.0, way) : vec2(way, 0.0));
    uint ground = smooth_at(heights, heightsAt, there, 0.01);
    uint top = smooth_at(valley, valleyAt, there, 0.01);
    if (ground != NONE && (top != NONE && top > ground) != isMist) isShore = 1u;
  }
  return uvec3(here, 0u, isShore);
}

vec3 bare(float height, vec2 rise) {
  float place = clamp((height - lowest) / max(highest - lowest, 1.0), 0.0, 1.0) * 15.0;
  int tint = min(int(place), 14);
  vec3 colour = mix(ground[tint], ground[tint + 1], place - float(tint));
  float relief = max((rise.x - rise.y + 0.70710678) / length(vec3(2.0 * rise, 1.0)), 0.0);
  return colour * (0.66 + 0.46 * relief);
}

void main() {
  vec2 pixel = vec2(size.y - gl_FragCoord.y, gl_FragCoord.x);
  vec2 cell = middle + (pixel - size.yx / 2.0) * cells;
  first = uvec4(NONE);
  second = uvec4(NONE);
  third = vec4(faint, 1.0);
  uint height = smooth_at(heights, heightsAt, cell, 0.5);
  if (height == NONE) return;
  float reach = clamp(cells, 1.0, ${REACH}.0);
  first = uvec4(height, isValley ? valley_levels(cell, height) : flood_levels(cell));
  uint day = nearest(days, daysAt, cell);
  uint seen = nearest(visible, visibleAt, cell);
  vec2 rise = vec2(
    slope(cell + vec2(0.0, reach), cell - vec2(0.0, reach), height),
    slope(cell - vec2(reach, 0.0), cell + vec2(reach, 0.0), height)
  );
  vec3 upright = normalize(vec3(-rise, 1.0));
  second = uvec4(
    uvec2(floor(FLAT * (1.0 + upright.xy) + 0.5)),
    smooth_at(light, lightAt, cell, 0.5),
    (day == NONE ? 0u : day) + (seen == 0u ? ${IS_HIDDEN}u : 0u)
  );
  third = vec4(bare(float(height), rise), upright.z);
}`;

/** What is shaded: all of a picture; its light alone, to be kept; or the mist over the light kept. */
export const STEPS = { whole: 0, keepLight: 1, byMist: 2 };

const SHADE = `
uniform usampler2D first, second;
uniform sampler2D third, daysRing, kept;
uniform vec3 hidden_, shore, lit_by, shade_by, shade_add, lit_thick, lit_thin, shade_thick, shade_thin;
uniform float step_m, top, line;
uniform ivec2 lit;        // the first and the last minute of light that has come
uniform int every;        // pixels of the layers to one of the picture, to each side
uniform vec2 whole, part; // of the layers, and of what is drawn, pixels
uniform vec3 sun;
out vec4 drawn;

void main() {
  ivec2 pixel = every * ivec2(gl_FragCoord.xy);
  // texelFetch also looks whether a pixel is within, which takes as long again
  vec2 place = (vec2(pixel) + 0.5) / whole;
  // whole numbers with a sign hold all that is in the layers, and are quicker to compare
  ivec4 here = ivec4(texture(first, place));
#if (LIGHT && STEP != ${STEPS.byMist}) || OVER || HIDDEN
  ivec4 also = ivec4(texture(second, place));
#endif
#if STEP == ${STEPS.byMist}
  vec4 base = texture(kept, gl_FragCoord.xy / part);
  vec3 colour = base.rgb;
  float isLit = base.a;
#else
  vec4 base = texture(third, place);
  vec3 colour = base.rgb * lit_by;
  float isLit = 1.0;
#if LIGHT
  isLit = also.z >= lit.x && also.z <= lit.y ? 1.0 : 0.0;
  float face = clamp(dot(vec3(vec2(also.xy) / FLAT - 1.0, base.a), sun), 0.0, 0.35);
  colour = mix(base.rgb * shade_by + shade_add, colour * (1.0 + 0.8 * face), isLit);
#endif
#endif

#if STEP == ${STEPS.keepLight}
  drawn = vec4(here.x == ${NONE} ? base.rgb : colour, isLit);
#else
#if KIND
#if KIND == 1
  int level = int(floor(top));
  float depth_m = (top - float(here.x)) * step_m;
  bool isMist = here.y <= level;
  bool isShore = here.z <= level && level < here.w;
#else
  float depth_m = float(here.y - here.x) * step_m;
  bool isMist = here.y != ${NONE} && here.y > here.x;
  bool isShore = here.w == 1;
#endif
  float far = exp(-depth_m / 120.0);
  float near = far * far;  // squared twice more it is exp(-depth_m / 15.0)
  near *= near;
  near *= near;
#if LIGHT
  vec3 thick = mix(shade_thick, lit_thick, isLit);
  vec3 mist = mix(thick, mix(shade_thin, lit_thin, isLit), far);
#else
  vec3 mist = mix(lit_thick, lit_thin, far);
#endif
  colour = mix(mist, colour, isMist ? 0.5 * near : 1.0);
  colour = isShore ? shore : colour;
#endif
#if OVER
  int day = also.w % ${IS_HIDDEN};
  if (day > 0) colour = mix(colour, texelFetch(daysRing, ivec2(day - 1, 0), 0).rgb, 0.78);
#endif
#if HIDDEN
  int down = int(whole.y) - 1 - pixel.y;
  bool isHatch = mod(float(pixel.x + down), 7.0 * line) < 1.5 * line;
  if (also.w >= ${IS_HIDDEN} && isHatch) colour = mix(colour, hidden_, 0.6);
#endif
  drawn = vec4(here.x == ${NONE} ? base.rgb : colour, 1.0);
#endif
}`;

/** The pass that shades one kind of mist, with or without light, days over it, and hatching.
 *
 * A machine without a graphics chip works out every branch for every pixel, and each pixel that is
 * read costs it as much: what is not shown is left out here. Dusk is in the colours already; what is
 * in the sun and what is in the shade are both worked out.
 */
export const shadeText = ({ kind, light, over, hidden, step }) => `${HEAD}
#define KIND ${kind}
#define LIGHT ${Number(light)}
#define OVER ${Number(over)}
#define HIDDEN ${Number(hidden)}
#define STEP ${step}
${SHADE}`;
