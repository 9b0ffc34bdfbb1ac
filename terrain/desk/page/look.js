/** How ground and mist are to be shaded now: mist, clock and sun as both painters take them. */

import { mistOf } from "./state.js";

const RADIANS_DEG = Math.PI / 180;
const KIND_NUMBERS = { none: 0, level: 1, valley: 2 };
const NIGHT_DEG = -7;

/** What `shade` and `paintScenery` take besides the ground. convergence_deg: of the grid there. */
export function lookOf(supply, convergence_deg) {
  const { state, about, planes } = supply;
  const mist = mistOf(state.get("mist"));
  const minute = supply.minute;
  const azimuth = ((minute?.azimuth_deg ?? 135) - convergence_deg) * RADIANS_DEG;
  const altitude = Math.max(minute?.altitude_deg ?? 20, 0) * RADIANS_DEG;
  const level = Math.cos(altitude);
  return {
    kind: KIND_NUMBERS[mist.kind],
    top: mist.kind === "level" ? supply.stepsOf(mist.top_m) : -1,
    minute: supply.lightMinute,
    evening: state.get("end") === "evening",
    sun: [level * Math.sin(azimuth), level * Math.cos(azimuth), Math.sin(altitude)],
    dusk: minute ? Math.min(Math.max(1 - minute.altitude_deg / NIGHT_DEG, 0), 1) : 1,
    ...supply.range,
    step_m: about.heights.step_m,
    over: Boolean(state.get("over")) && Boolean(planes.days),
    hidden: Boolean(state.get("hidden")) && Boolean(planes.visible),
    line: 1,
  };
}
