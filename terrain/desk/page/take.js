/** To take along: the plan as a sheet, a track and a calendar, and the desk itself in one file. */

import { numbersOf } from "./state.js";
import { longDate } from "./words.js";

const SPOTS_MOST = 6;

export class TakePane {
  constructor(bench, root) {
    Object.assign(this, bench, { bench, root });
    this.start = root.querySelector("#take-start");
    this.state.listen(() => this.follow());
    this.start.addEventListener("change", () => this.follow());
    this.follow();
  }

  get query() {
    const part = (name) => this.state.get(name);
    const spot = numbersOf(part("spot"));
    const where = spot ? { lat_deg: spot[0], lon_deg: spot[1] } : {};
    const day = { hill: part("hill"), date: part("date"), end: part("end"), mist: part("mist") };
    const start = this.start.value ? { start: this.start.value } : {};
    return { ...day, ...where, eye_m: part("eye"), ...start };
  }

  /** The places whose views go into the file: where one stands, and those that were found. */
  get spots() {
    const found = this.bench.vantages.map(({ lat_deg, lon_deg }) => this.bench.spotText(lat_deg, lon_deg));
    const standing = this.state.get("spot");
    return [...new Set([...(standing ? [standing] : []), ...found])].slice(0, SPOTS_MOST);
  }

  follow() {
    const hasSpot = Boolean(this.state.get("spot"));
    const { query } = this;
    for (const link of this.root.querySelectorAll("a[data-file]")) {
      const { file } = link.dataset;
      const whole = file === "desk.html" ? { ...query, spots: this.spots.join(";") } : query;
      if (hasSpot) link.setAttribute("href", this.source.take(file, whole));
      else link.removeAttribute("href");
    }
    const line = `For ${this.state.get("hill")}, ${longDate(this.state.get("date"))}, ${this.state.get("end")}.`;
    this.root.querySelector(".said").textContent = hasSpot ? line : "Choose on the map where to stand first.";
  }
}
