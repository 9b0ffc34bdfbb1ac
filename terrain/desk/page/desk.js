/** Lays the desk: the state from the address, the ground from the server or from the file itself. */

import { asking } from "./ask.js";
import { unpacking } from "./packed.js";
import { mistText, numbersOf, pageAddress, State } from "./state.js";
import { Supply } from "./supply.js";
import { longDate, Voice } from "./words.js";
import { firstPicture } from "./first.js";
import { GroundMap } from "./map.js";
import { aimAt, fieldOf, SpotView } from "./view.js";
import { altitudeOf } from "./seen.js";
import { SpotAnswer } from "./answer.js";
import { HillPane } from "./hill.js";
import { SeasonPane } from "./season.js";
import { SurveyPane } from "./survey.js";
import { TakePane } from "./take.js";
import { Controls } from "./controls.js";

const SEASON_DAYS = 14;
// names go to summits within 300 m, and a summit lies within a cell or two
const SAME_HILL_M = 600;

const byName = (id) => document.getElementById(id);

/** What all parts of the page share: the ground, the state, and where hill and spot are. */
class Bench {
  constructor(source, about, { colours, painter }, voice) {
    const start = defaultsOf(about, source);
    const state = new State(start, pageAddress(globalThis));
    Object.assign(this, { source, colours, painter, voice, state, vantages: source.places ?? [] });
    this.supply = new Supply(source, about, state, voice);
    globalThis.addEventListener("popstate", () => state.follow());
    globalThis.addEventListener("hashchange", () => state.follow());
    globalThis.addEventListener("pagehide", () => state.write());
  }

  get heights() {
    const { range } = this.supply;
    return { lowest: this.supply.heightOf(range.lowest), highest: this.supply.heightOf(range.highest) };
  }

  get middle() {
    return Math.round(this.heights.lowest + 0.45 * (this.heights.highest - this.heights.lowest));
  }

  hillText({ name, lat_deg, lon_deg }) {
    return name || this.spotText(lat_deg, lon_deg);
  }

  spotText(lat_deg, lon_deg) {
    return `${lat_deg.toFixed(6)},${lon_deg.toFixed(6)}`;
  }

  isHill(summit) {
    return this.hillText(summit) === this.state.get("hill");
  }

  /** The hill where it is known, with its place on the ground: a summit, a place, or LAT,LON. */
  get hill() {
    const { about, lattice, planes } = this.supply;
    const text = this.state.get("hill");
    const summit = about.summits.find((each) => this.isHill(each));
    if (summit) return summit;
    const place = about.places.find(({ name }) => name === text);
    const said = /^[-\d.]+,[-\d.]+$/.test(text) ? numbersOf(text) : null;
    if (!place && !said) return null;
    const [lat_deg, lon_deg] = place ? [place.lat_deg, place.lon_deg] : said;
    const [row, col] = lattice.rowcol(lat_deg, lon_deg);
    const height_m = this.supply.heightOf(planes.heights?.at(row, col) ?? 0);
    return { name: place?.name ?? "the hill", lat_deg, lon_deg, row, col, height_m };
  }

  /** The text of a hill that an answer names: its name if it has one here, else where it is. */
  hillNamed(name, lat_deg, lon_deg) {
    const { about, lattice } = this.supply;
    const [row, col] = lattice.rowcol(lat_deg, lon_deg);
    const isNear = (each) => Math.hypot(each.row - row, each.col - col) * about.cell_m < SAME_HILL_M;
    const called = [...about.summits, ...about.places].filter((each) => each.name === name);
    return called.length && called.every(isNear) ? name : this.spotText(lat_deg, lon_deg);
  }

  /** The direction from a spot to the hill, and how far that is. */
  toHill(lat_deg, lon_deg) {
    const { about, lattice, planes } = this.supply;
    const [row, col] = lattice.rowcol(lat_deg, lon_deg);
    const { hill } = this;
    if (!hill) return { azimuth_deg: this.supply.minute?.azimuth_deg ?? 90, altitude_deg: 0, away_m: Infinity };
    const [north, east] = [row - hill.row, hill.col - col];
    const away_m = Math.max(Math.hypot(north, east) * about.cell_m, about.cell_m);
    const azimuth_deg = (Math.atan2(east, north) * 180) / Math.PI + lattice.convergence(row, col);
    const eye_m = this.supply.heightOf(planes.heights?.at(row, col) ?? 0) + Number(this.state.get("eye"));
    return { azimuth_deg, altitude_deg: altitudeOf(eye_m, hill.height_m, away_m), away_m };
  }

  /** Where the camera looks and how much it takes in: at the hill unless turned. */
  aim() {
    const [across_mm, up_mm] = this.supply.about.kit.sensor_mm;
    const focal_mm = Number(this.state.get("lens"));
    const field_deg = fieldOf(focal_mm, across_mm);
    const size = { field_deg, down_deg: (field_deg * up_mm) / across_mm };
    const said = numbersOf(this.state.get("look"));
    if (said) return { azimuth_deg: said[0], altitude_deg: said[1], ...size };
    const spot = numbersOf(this.state.get("spot"));
    const { azimuth_deg, altitude_deg } = spot ? this.toHill(...spot) : { azimuth_deg: 90, altitude_deg: 0 };
    return { azimuth_deg, altitude_deg: aimAt(altitude_deg, size.down_deg), ...size };
  }

  /** Stands at a place; time: of the clock to go to, "" to leave it. */
  standAt(lat_deg, lon_deg, time = "") {
    if (this.source.places && !this.source.has(lat_deg, lon_deg)) {
      this.voice.complain("this file has the views of its numbered places alone: click one of those");
      return;
    }
    this.voice.complain("");
    const when = time ? { time } : {};
    this.state.set({ spot: this.spotText(lat_deg, lon_deg), look: "", ...when }, { step: true });
    this.voice.say(`You stand at ${this.spotName(this.state.get("spot"))}`);
  }

  /** The name of a spot that has one, else its coordinates. */
  spotName(text) {
    const known = this.supply.about.places.find((each) => this.spotText(each.lat_deg, each.lon_deg) === text);
    return known?.name ?? text;
  }

  /** Moves everything to a row of a table: its place, with its day, hill, clock, and what else it says. */
  goTo({ lat_deg, lon_deg }, { date, hill, ...more }) {
    this.voice.complain("");
    this.state.set({ date, hill, spot: this.spotText(lat_deg, lon_deg), look: "", ...more }, { step: true });
    this.voice.say(`${longDate(date)}, ${hill}`);
  }

  chooseHill(summit) {
    this.state.set({ hill: this.hillText(summit), look: "" }, { step: true });
    this.voice.say(`The hill is ${summit.name || "this summit"}`);
  }

  showVantages(rows) {
    this.vantages = rows;
    this.map?.placeSigns();
    this.take?.follow();
  }
}

/** Whether there is a survey to show, which the one file has not. */
const hasSurvey = (about, source) => source.isServed && about.has_survey;

/** The state where the address says nothing. */
function defaultsOf(about, source) {
  const { start } = about;
  const later = new Date(`${start.date}T12:00:00Z`);
  later.setUTCDate(later.getUTCDate() + SEASON_DAYS);
  const first = source.places?.[0];
  const spot = start.spot ?? (first ? [first.lat_deg, first.lon_deg] : null);
  return {
    ...{ tab: hasSurvey(about, source) ? "survey" : "seen", hill: start.hill ?? "", date: start.date, end: start.end, time: "" },
    mist: mistText(start.mist ?? { kind: "none" }),
    spot: spot ? spot.map((part) => part.toFixed(6)).join(",") : "",
    ...{ eye: `${start.eye_m}`, lens: `${start.lens_mm}`, look: "", map: "", over: "", hidden: "" },
    ...{ from: start.date, to: later.toISOString().slice(0, 10), start: "" },
  };
}

async function begin(voice) {
  const packed = byName("packed");
  const source = packed ? unpacking(JSON.parse(packed.textContent)) : asking();
  const telling = source.about();
  // where the first picture fails, that is what is told
  telling.catch(() => {});
  const first = await firstPicture(source, byName("map"));
  const about = await telling;
  byName("title").textContent = about.title;
  byName("credit").textContent = about.credit;
  byName("cautions").replaceChildren(...about.cautions.map((line) => Object.assign(document.createElement("li"), { textContent: line })));
  document.body.classList.toggle("packed", Boolean(packed));
  const bench = new Bench(source, about, first, voice);
  bench.map = new GroundMap(bench, byName("map"));
  bench.view = new SpotView(bench, byName("view"));
  const answer = new SpotAnswer(bench, byName("answer"));
  bench.supply.put("heights", first.heights);
  byName("tab-survey").hidden = !hasSurvey(about, source);
  bench.controls = new Controls(bench);
  for (const id of ["hill", "date", "end", "eye"]) byName(id).disabled = !source.isServed;
  if (source.isServed) {
    bench.places = new HillPane(bench, byName("pane-hill"));
    bench.season = new SeasonPane(bench, byName("pane-season"));
    if (hasSurvey(about, source)) bench.survey = new SurveyPane(bench, byName("pane-survey"));
    bench.take = new TakePane(bench, byName("pane-take"));
  }
  document.body.classList.add("laid");
  byName("reading").hidden = true;
  await bench.supply.begin();
  answer.bring();
  voice.say(`${about.title}: ${bench.state.get("hill")}, ${longDate(bench.state.get("date"))}`);
}

const voice = new Voice(byName("live"), byName("wrong"));
try {
  await begin(voice);
} catch (error) {
  voice.complain(error.message);
  byName("reading").hidden = true;
}
