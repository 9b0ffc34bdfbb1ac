/** The hill: its days over the map, and its best places, ranked, with the view of each. */

import { clockOf, direction, distance, figure, longDate, made, metres } from "./words.js";
import { palette } from "./plain.js";
import { lookOf } from "./look.js";
import { mistOf, numbersOf } from "./state.js";
import { mistAlong, Scenery } from "./seen.js";
import { Picture } from "./picture.js";
import { aimAt, fieldOf } from "./view.js";

const VIEWS_MOST = 6;
const VIEW_PX = 260;
const VIEW_STEP_DEG = 0.02;

export class HillPane {
  constructor(bench, root) {
    Object.assign(this, bench, { bench, root });
    const found = (name) => root.querySelector(name);
    this.parts = {
      progress: found("progress"),
      said: found(".said"),
      stop: found("#places-stop"),
      rows: found("tbody"),
      table: found("table"),
      notes: found(".notes"),
    };
    this.end = () => {};
    found("#places-day").addEventListener("click", () => this.search({ date: this.state.get("date") }));
    found("#places-year").addEventListener("click", () => this.search({ year: this.state.get("date").slice(0, 4) }));
    this.parts.stop.addEventListener("click", () => this.stop("stopped"));
    this.state.listen((changed) => {
      if (["hill", "date", "end", "mist"].some((name) => changed.has(name))) this.forget(changed);
      this.markChosen();
    });
  }

  /** What was found is of another hill or day, or of another mist. */
  forget(changed) {
    if (!this.bench.vantages.length && this.parts.stop.hidden) return;
    if (changed.has("hill") || changed.has("end")) {
      this.stop("");
      this.bench.showVantages([]);
      this.parts.table.hidden = true;
      this.parts.notes.replaceChildren();
    } else if (changed.has("mist") || !this.isOfYear) {
      this.parts.said.textContent = "These are for another day or mist: find them anew.";
    }
  }

  search(when) {
    this.stop("");
    this.isOfYear = Boolean(when.year);
    const part = (name) => this.state.get(name);
    const job = `${Date.now() % 1e9}`;
    const query = { hill: part("hill"), end: part("end"), mist: part("mist"), ...when, job };
    this.bench.showVantages([]);
    this.parts.rows.replaceChildren();
    this.parts.table.hidden = true;
    this.parts.notes.replaceChildren();
    this.parts.stop.hidden = false;
    this.parts.progress.hidden = false;
    this.parts.progress.value = 0;
    this.tellProgress("looking for places");
    this.voice.say("looking for places");
    const rows = [];
    this.end = this.source.stream("vantages", query, {
      progress: ({ done, words }) => {
        this.parts.progress.value = done;
        this.tellProgress(`${words || "looking at places"}: ${done} %`);
      },
      row: (row) => rows.push(row),
      end: ({ words }) => this.show(rows, words),
      wrong: (line) => this.stop(line),
    });
  }

  tellProgress(line) {
    this.parts.said.textContent = line;
  }

  stop(line) {
    this.end();
    this.end = () => {};
    this.parts.stop.hidden = true;
    this.parts.progress.hidden = true;
    this.tellProgress(line);
    if (line) this.voice.say(line);
  }

  show(rows, words) {
    this.stop(words[0]);
    this.bench.showVantages(rows);
    this.lookAt(rows);
    this.parts.rows.replaceChildren(...rows.map((row, number) => this.rowOf(row, number)));
    this.parts.table.hidden = false;
    this.parts.notes.replaceChildren(...words.slice(1).map((line) => made("p", {}, line)));
    this.markChosen();
    this.drawViews(rows.slice(0, VIEWS_MOST));
  }

  /** Moves a map that shows all of the ground to the places found: their signs would lie in a heap. */
  lookAt(rows) {
    const { bench, supply } = this;
    if (!rows.length || !bench.hill || this.state.get("map")) return;
    const cells = rows.map(({ lat_deg, lon_deg }) => supply.lattice.rowcol(lat_deg, lon_deg));
    const map = bench.map.windowOf([...cells, [bench.hill.row, bench.hill.col]]);
    if (numbersOf(map)[2] < bench.map.view.whole_m) this.state.set({ map });
  }

  rowOf(row, number) {
    // as large as it will be, so that the rows stay where they are when it is drawn
    const [across_mm, up_mm] = this.supply.about.kit.sensor_mm;
    const size = { width: VIEW_PX, height: Math.round((VIEW_PX * up_mm) / across_mm) };
    const view = number < VIEWS_MOST ? made("canvas", { ...size, role: "img" }) : null;
    view?.setAttribute("aria-label", `the view from place ${number + 1}`);
    const stand = made("button", { type: "button", onclick: () => this.stand(row) }, "Stand here");
    stand.setAttribute("aria-label", `Stand at place ${number + 1}`);
    stand.dataset.spot = this.bench.spotText(row.lat_deg, row.lon_deg);
    const facts = [metres(row.height_m), `hill ${distance(row.distance_m)} ${direction(row.azimuth_deg ?? 0)}`];
    if (row.freeboard_m > 0) facts.push(`${metres(row.freeboard_m)} above the mist`);
    const score = row.score === undefined || row.score === null ? "" : figure(100 * row.score);
    const days = row.days?.length ? made("p", {}, daysOf(row)) : null;
    return made(
      "tr",
      {},
      made("th", { scope: "row" }, made("span", { class: "disc" }, `${number + 1}`)),
      made("td", {}, view ?? "", stand),
      made("td", {}, made("p", {}, facts.join(", ")), made("p", {}, row.words.join("; ")), days),
      made("td", { class: "figure" }, score),
    );
  }

  /** Stands at a place, at the moment when the sun is best placed there; of a year's, on its best day. */
  stand({ lat_deg, lon_deg, best_at, day }) {
    const time = clockOf(best_at);
    if (!this.isOfYear) this.bench.standAt(lat_deg, lon_deg, time);
    else this.bench.goTo({ lat_deg, lon_deg }, { date: day.slice(0, 10), hill: this.state.get("hill"), time });
  }

  markChosen() {
    for (const button of this.parts.rows.querySelectorAll("button")) {
      button.setAttribute("aria-pressed", `${button.dataset.spot === this.state.get("spot")}`);
    }
  }

  /** The view of each place toward the hill, side by side to choose from. */
  async drawViews(rows) {
    const canvases = this.parts.rows.querySelectorAll("canvas");
    for (const [number, row] of rows.entries()) {
      try {
        await this.drawView(canvases[number], row);
      } catch (error) {
        canvases[number].replaceWith(made("p", {}, error.message));
      }
    }
  }

  async drawView(canvas, { lat_deg, lon_deg }) {
    const { supply } = this;
    const toHill = this.bench.toHill(lat_deg, lon_deg);
    const { azimuth_deg } = toHill;
    const [across_mm, up_mm] = supply.about.kit.sensor_mm;
    const field_deg = fieldOf(Number(this.state.get("lens")), across_mm);
    const down_deg = (field_deg * up_mm) / across_mm;
    const altitude_deg = aimAt(toHill.altitude_deg, down_deg);
    const query = {
      ...{ lat_deg, lon_deg, eye_m: this.state.get("eye"), step_deg: Math.max(field_deg / VIEW_PX, VIEW_STEP_DEG) },
      ...{ from_deg: azimuth_deg - field_deg / 2, to_deg: azimuth_deg + field_deg / 2 },
    };
    const between = { low_deg: Math.max(altitude_deg - down_deg / 2, -89), high_deg: altitude_deg + down_deg / 2 };
    const about = await this.source.seen({ ...query, ...between });
    const scenery = new Scenery(about, await this.source.seenPlanes(about.id), supply);
    const frame = { azimuth_deg, altitude_deg, field_deg, width: VIEW_PX, height: Math.round((VIEW_PX * down_deg) / field_deg) };
    const look = lookOf(supply, supply.lattice.convergence(about.spot.row, about.spot.col));
    const places = scenery.places(frame);
    const mists = mistAlong(scenery, frame, places, mistOf(this.state.get("mist")));
    const how = { supply, numbers: palette(this.colours), edge: this.colours.sun };
    const sky = await this.bench.view.skyFor(scenery.eye_height_m);
    new Picture(canvas, how).paint({ scenery, frame, places, mists, look }, sky);
    canvas.dataset.drawn = "1";
  }
}

/** The best day of a place in a year, and how many good ones it has. */
const daysOf = ({ day, days }) => `best on ${longDate(day.slice(0, 10))}, good on ${days.length} day${days.length > 1 ? "s" : ""}`;
