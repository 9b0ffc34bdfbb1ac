/** What stands over the view: degrees, the hill, and summits as numbers keyed to a table. */

import { direction, distance, made, metres } from "./words.js";
import { drawn, mark, moveTo } from "./marks.js";
import { altitudeOf, pixelOf } from "./seen.js";

const SUMMITS_MOST = 8;
const NEAR_SHARE = 0.06;
const STEM_PX = 22;
const DISC_PX = 13;
const SUN_DEG = 0.27;

export class ViewSigns {
  constructor(bench, drawing) {
    Object.assign(this, bench, { bench, drawing });
    this.summits = document.getElementById("view-summits");
  }

  /** Names nothing in the picture: discs with numbers, and the table beside says what they are.
   *
   * frame: as it is on the screen. painted: the frame and the mists of the picture. From within the
   * mist nothing is seen, and so nothing is told.
   */
  put(scenery, frame, painted) {
    const signs = this.ticks(frame);
    const rows = [];
    const isUnder = scenery.under_m !== null;
    const all = isUnder ? [] : this.bench.supply.about.summits;
    const found = all.map((summit) => this.sighted(summit, scenery, frame, painted));
    const hill = !isUnder && this.bench.hill && this.sighted(this.bench.hill, scenery, frame, painted);
    const shown = found.filter((each) => each?.isSeen && !this.bench.isHill(each.summit));
    const best = shown.sort((a, b) => b.summit.prominence_m - a.summit.prominence_m).slice(0, SUMMITS_MOST);
    best.sort((a, b) => a.x - b.x);
    for (const [number, each] of [...(hill ? [["", hill]] : []), ...best.map((one, at) => [`${at + 1}`, one])]) {
      const { summit, x, y } = each;
      const sign = mark(number ? "vantage" : "hill", number, summit.name || "a summit");
      // over the summit, or under it where the sun would be covered
      const side = this.isOverSun(frame, x, y - STEM_PX) ? -1 : 1;
      moveTo(sign, x, Math.min(Math.max(y - side * STEM_PX, 14), frame.height - 14));
      sign.append(drawn("path", { class: "stem", d: `M0 ${12 * side}V${20 * side}` }));
      signs.push(sign);
      rows.push(this.rowOf(number, each));
    }
    this.drawing.replaceChildren(...signs);
    this.summits.replaceChildren(...rows);
    this.summits.closest("table").hidden = !rows.length;
  }

  /** Whether a disc at a pixel would cover some of the sun. */
  isOverSun(frame, x, y) {
    const { minute } = this.supply;
    if (!minute) return false;
    const [across, down] = pixelOf(frame, minute.azimuth_deg, minute.altitude_deg);
    return Math.hypot(across - x, down - y) < DISC_PX + (SUN_DEG * frame.width) / frame.field_deg;
  }

  rowOf(number, { summit, azimuth_deg, away_m, isSeen }) {
    const name = summit.name || "a summit";
    const cells = [metres(summit.height_m), distance(away_m), direction(azimuth_deg)];
    const label = made("th", { scope: "row" }, made("span", { class: number ? "disc" : "disc hill" }, number || "▲"));
    const said = isSeen ? name : `${name} (hidden)`;
    return made("tr", {}, label, made("td", {}, said), ...cells.map((each) => made("td", { class: "figure" }, each)));
  }

  /** Where a summit stands in the picture; null outside it. */
  sighted(summit, scenery, frame, painted) {
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
    const isBare = isClear && !isVeiled(painted, azimuth_deg, altitude_deg, away_m);
    const isSeen = isBare && this.isSeen(scenery, azimuth_deg, altitude_deg, away_m);
    return { summit, azimuth_deg, away_m, x, y, isSeen };
  }

  isSeen(scenery, azimuth_deg, altitude_deg, away_m) {
    const off = (((azimuth_deg - scenery.azimuth0_deg) % 360) + 360) % 360;
    const column = Math.round(off / scenery.step_deg);
    const row = Math.round((scenery.altitude_top_deg - altitude_deg) / scenery.step_deg);
    const near = [0, 1, 2, 3].map((down) => scenery.distance_m[(Math.max(row, 0) + down) * scenery.width + column]);
    return near.some((found_m) => Math.abs(found_m - away_m) < NEAR_SHARE * away_m + 60);
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
}

/** Whether mist lies before a place; a top just over the mist shares its pixel with that. */
function isVeiled({ frame, mists }, azimuth_deg, altitude_deg, away_m) {
  const [x, y] = pixelOf(frame, azimuth_deg, altitude_deg).map(Math.floor);
  const above = Math.max(y - 1, 0) * frame.width + x;
  return mists.distance_m[above] < (1 - NEAR_SHARE) * away_m;
}
