/** Brings what the page shows as the state asks for it: first the ground, then mist, then light. */

import { numbersOf, mistOf } from "./state.js";
import { newest, rest } from "./ask.js";
import { Lattice, NONE, rangeOf, wholePlane } from "./planes.js";

const SETTLE_MS = 300;
const EIGHTHS = 8;
const COARSE = 4;

export class Supply {
  constructor(source, about, state, voice) {
    Object.assign(this, { source, about, state, voice });
    this.lattice = new Lattice(about.lattice);
    this.range = { lowest: 0, highest: 1 };
    this.planes = {};
    this.sun = null;
    this.busy = new Map();
    this.heard = [];
    this.newest = Object.fromEntries(
      ["sun", "valley", "light", "days", "visible"].map((kind) => [kind, newest()]),
    );
    state.listen((changed) => this.follow(changed));
  }

  /** Calls `heard` with the kind of what has come: a plane, "sun" or "busy". */
  listen(heard) {
    this.heard.push(heard);
  }

  tell(kind) {
    for (const heard of this.heard) heard(kind);
  }

  /** Mist, sun and light over it, each as it is ready. */
  async begin() {
    this.work("sun", "the sun", (signal) => this.bringSun(signal));
    await this.whole("flood", "where mist can lie");
    this.follow(new Set(["mist", "over", "hidden"]));
  }

  follow(changed) {
    if (!this.planes.flood) return;
    const any = (...names) => names.some((name) => changed.has(name));
    if (any("date", "end", "spot")) this.work("sun", "the sun", (signal) => this.bringSun(signal));
    if (any("mist")) this.bringMist();
    if (any("mist", "date", "end")) this.work("light", "the light", (signal) => this.bringLight(signal));
    if (any("over", "hill", "date", "end", "mist")) this.bringDays(changed);
    if (any("hidden", "spot", "eye", "mist")) this.bringVisible();
  }

  /** Does the newest work of a kind, says that it is at it, and what was wrong. */
  async work(kind, words, work) {
    this.busy.set(kind, words);
    this.tell("busy");
    try {
      const isDone = await this.newest[kind](async (signal) => {
        await work(signal);
        return true;
      });
      if (!isDone) return;
      this.voice.complain("");
    } catch (error) {
      this.voice.complain(`${words}: ${error.message}`);
    }
    this.busy.delete(kind);
    this.tell("busy");
  }

  async whole(kind, words) {
    this.busy.set(kind, words);
    this.tell("busy");
    this.put(kind, await wholePlane(this.about, (tile) => this.source.tile(kind, tile)));
    this.busy.delete(kind);
    this.tell("busy");
  }

  put(kind, plane) {
    this.planes[kind] = plane;
    if (kind === "heights") this.range = rangeOf(plane);
    this.tell(kind);
  }

  get day() {
    return { date: this.state.get("date"), end: this.state.get("end") };
  }

  async bringSun(signal) {
    const spot = numbersOf(this.state.get("spot"));
    const where = spot ? { lat_deg: spot[0], lon_deg: spot[1] } : {};
    this.sun = await this.source.sun({ ...this.day, ...where }, signal);
    this.tell("sun");
  }

  bringMist() {
    const mist = mistOf(this.state.get("mist"));
    if (mist.kind !== "valley" || !this.source.isServed) return;
    const { depth_m, ceiling_m } = mist;
    this.work("valley", "mist along the valley floors", async (signal) => {
      await rest(SETTLE_MS, signal);
      const ask = (tile) => this.source.tile("valley", tile, { depth_m, ceiling_m }, signal);
      this.put("valley", await wholePlane(this.about, ask));
    });
  }

  /** The light of the day over ground and mist: coarse at once, fine when that is worked out. */
  async bringLight(signal) {
    await rest(SETTLE_MS, signal);
    const query = { ...this.day, mist: this.state.get("mist") };
    for (const fine of [0, 1]) {
      let plane;
      try {
        const ask = (tile) => this.source.tile("light", tile, { ...query, fine }, signal);
        plane = await wholePlane(this.about, ask, fine ? 1 : COARSE);
      } catch (error) {
        if (signal.aborted || this.source.isServed) throw error;
        plane = null;
      }
      if (signal.aborted) return;
      if (plane) plane.from = Date.parse(plane.headers.get("X-From-UTC"));
      this.put("light", plane);
      if (!this.source.isServed) return;
    }
  }

  bringDays(changed) {
    if (!this.state.get("over")) {
      if (changed.has("over")) this.put("days", null);
      return;
    }
    const half = this.state.get("over") === "north" ? 0 : 1;
    this.work("days", "the days of the year", async (signal) => {
      await rest(SETTLE_MS, signal);
      const { date, end } = this.day;
      const query = { hill: this.state.get("hill"), mist: this.state.get("mist"), end };
      query.year = date.slice(0, 4);
      const ask = async (tile) => {
        const answer = await this.source.tile("atlas", tile, query, signal);
        const count = answer.values.length / 2;
        return { ...answer, values: answer.values.subarray(half * count, (half + 1) * count) };
      };
      this.put("days", await wholePlane(this.about, ask));
    });
  }

  bringVisible() {
    const spot = numbersOf(this.state.get("spot"));
    if (!this.state.get("hidden") || !spot) {
      // a plane that comes or goes has the map sampled anew, which a slider must not
      if (this.planes.visible) this.put("visible", null);
      return;
    }
    this.work("visible", "what is seen from there", async (signal) => {
      await rest(SETTLE_MS, signal);
      const where = { lat_deg: spot[0], lon_deg: spot[1], eye_m: this.state.get("eye") };
      const query = { ...where, mist: this.state.get("mist") };
      const ask = (tile) => this.source.tile("visible", tile, query, signal);
      this.put("visible", await wholePlane(this.about, ask));
    });
  }

  /** The minute of the clock that is shown: of those of the sun, the one nearest to the state's. */
  get minute() {
    const minutes = this.sun?.minutes;
    if (!minutes?.length) return null;
    const wanted = this.state.get("time");
    if (!wanted) {
      const up = minutes.findIndex(({ altitude_deg }) => altitude_deg > 1.5);
      const down = minutes.findLastIndex(({ altitude_deg }) => altitude_deg > 1.5);
      const place = this.state.get("end") === "evening" ? down : up;
      return { ...minutes[Math.max(place, 0)], place: Math.max(place, 0) };
    }
    const asMinutes = (clock) => Number(clock.slice(0, 2)) * 60 + Number(clock.slice(3));
    const off = minutes.map(({ clock }) => {
      const gap = Math.abs(asMinutes(clock) - asMinutes(wanted));
      return Math.min(gap, 1440 - gap);
    });
    const place = off.indexOf(Math.min(...off));
    return { ...minutes[place], place };
  }

  /** That minute as the plane of light counts; -1 where no light is known. */
  get lightMinute() {
    const { light } = this.planes;
    const minute = this.minute;
    if (!light || !minute) return -1;
    return Math.max((EIGHTHS * (Date.parse(minute.utc) - light.from)) / 60000, 0);
  }

  /** Whether direct light lies on a cell at that minute; null where it is not known. */
  isLit(row, col) {
    const minute = this.lightMinute;
    const comes = this.planes.light?.at(row, col);
    if (minute < 0 || comes === undefined) return null;
    if (comes === NONE) return false;
    return this.state.get("end") === "evening" ? comes > minute : comes <= minute;
  }

  /** Metres of a height as the planes count it. */
  heightOf(steps) {
    return this.about.heights.low_m + this.about.heights.step_m * steps;
  }

  /** A height in metres as the planes count it. */
  stepsOf(height_m) {
    return (height_m - this.about.heights.low_m) / this.about.heights.step_m;
  }

  /** Top of the mist over a cell in metres; null where none lies. */
  mistTop(row, col) {
    const mist = mistOf(this.state.get("mist"));
    if (mist.kind === "level") {
      const floods = this.planes.flood?.at(row, col) ?? NONE;
      return floods !== NONE && this.heightOf(floods) <= mist.top_m ? mist.top_m : null;
    }
    const top = mist.kind === "valley" ? (this.planes.valley?.at(row, col) ?? NONE) : NONE;
    return top === NONE ? null : this.heightOf(top);
  }
}
