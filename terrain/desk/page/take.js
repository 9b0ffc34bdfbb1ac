/** To take along: the plan as a sheet, a track and a calendar, and the desk itself in one file. */

import { numbersOf } from "./state.js";
import { longDate, made } from "./words.js";

const SPOTS_MOST = 6;

export class TakePane {
  constructor(bench, root) {
    Object.assign(this, bench, { bench, root });
    this.start = root.querySelector("#take-start");
    this.said = root.querySelector(".said");
    this.state.listen(() => this.follow());
    this.start.addEventListener("change", () => this.state.set({ start: this.start.value.trim() }, { step: true }));
    root.querySelector("#take-middle").addEventListener("click", () => {
      const { row, col } = bench.map.view;
      this.state.set({ start: bench.spotText(...this.supply.lattice.latlon(row, col)) }, { step: true });
    });
    for (const link of root.querySelectorAll("a[data-file]")) {
      link.addEventListener("click", (event) => this.take(event, link.getAttribute("href")));
    }
    this.follow();
  }

  get query() {
    const part = (name) => this.state.get(name);
    const spot = numbersOf(part("spot"));
    const where = spot ? { lat_deg: spot[0], lon_deg: spot[1] } : {};
    const day = { hill: part("hill"), date: part("date"), end: part("end"), mist: part("mist") };
    const start = part("start") ? { start: part("start") } : {};
    return { ...day, ...where, eye_m: part("eye"), ...start };
  }

  /** The places whose views go into the file: where one stands, and those that were found. */
  get spots() {
    const found = this.bench.vantages.map(({ lat_deg, lon_deg }) => this.bench.spotText(lat_deg, lon_deg));
    const standing = this.state.get("spot");
    return [...new Set([...(standing ? [standing] : []), ...found])].slice(0, SPOTS_MOST);
  }

  /** Keeps a file, or says why there is none, which a browser by itself does not. */
  async take(event, address) {
    event.preventDefault();
    if (!address) return;
    this.said.textContent = "Working out what to take along …";
    try {
      const { name, content } = await this.source.taken(address);
      const kept = URL.createObjectURL(content);
      made("a", { href: kept, download: name }).click();
      // the browser reads it while it keeps it
      setTimeout(() => URL.revokeObjectURL(kept), 60000);
      this.voice.complain("");
    } catch (error) {
      this.voice.complain(error.message);
    }
    this.follow();
  }

  follow() {
    if (document.activeElement !== this.start) this.start.value = this.state.get("start");
    const hasSpot = Boolean(this.state.get("spot"));
    const { query } = this;
    for (const link of this.root.querySelectorAll("a[data-file]")) {
      const { file } = link.dataset;
      const whole = file === "desk.html" ? { ...query, spots: this.spots.join(";") } : query;
      if (hasSpot) link.setAttribute("href", this.source.take(file, whole));
      else link.removeAttribute("href");
    }
    const line = `For ${this.state.get("hill")}, ${longDate(this.state.get("date"))}, ${this.state.get("end")}.`;
    this.said.textContent = hasSpot ? line : "Choose on the map where to stand first.";
  }
}
