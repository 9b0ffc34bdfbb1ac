/** The survey that the desk was opened with: its best rows; one moves everything to it. */

import { distance, figure, longDate, made, metres } from "./words.js";
import { mistOf } from "./state.js";

const SHOWN_AT_ONCE = 20;

export class SurveyPane {
  constructor(bench, root) {
    Object.assign(this, bench, { bench, root });
    const found = (name) => root.querySelector(name);
    this.parts = { said: found(".said"), table: found("table"), rows: found("tbody"), more: found("#survey-more") };
    this.rows = [];
    this.parts.more.addEventListener("click", () => this.showMore());
    this.state.listen(() => this.follow());
    this.bring();
  }

  async bring() {
    this.parts.said.textContent = "Reading the survey …";
    try {
      const { rows, words } = await this.source.survey();
      this.rows = rows.map((row) => ({ ...row, to: row.is_here ? this.stateOf(row) : null }));
      this.parts.said.textContent = words;
    } catch (error) {
      this.parts.said.textContent = error.message;
      return;
    }
    this.parts.table.hidden = false;
    // after a reload the row that was gone to is among those shown
    do this.show();
    while (this.parts.rows.rows.length <= this.rows.findIndex(({ to }) => to && this.isChosen(to)));
  }

  /** What of the state a row is: all but where it stands, which the bench puts there. */
  stateOf({ hill, hill_lat_deg, hill_lon_deg, lat_deg, lon_deg, date, end, time, mist }) {
    const named = this.bench.hillNamed(hill, hill_lat_deg, hill_lon_deg);
    return { date, end, time, mist, hill: named, spot: this.bench.spotText(lat_deg, lon_deg) };
  }

  isChosen(to) {
    return ["date", "end", "hill", "spot"].every((name) => to[name] === this.state.get(name));
  }

  /** Puts the next rows under those that are shown. */
  show() {
    const first = this.parts.rows.rows.length;
    this.parts.rows.append(...this.rows.slice(first, first + SHOWN_AT_ONCE).map((row) => this.rowOf(row)));
    const left = this.rows.length - this.parts.rows.rows.length;
    this.parts.more.hidden = !left;
    this.parts.more.textContent = `Show ${Math.min(left, SHOWN_AT_ONCE)} more`;
    this.follow();
  }

  /** Shows more of them, and goes on there by keyboard. */
  showMore() {
    const first = this.parts.rows.rows.length;
    this.show();
    const added = [...this.parts.rows.rows].slice(first);
    added.find((row) => row.querySelector("button"))?.querySelector("button").focus();
    this.voice.say(`${this.parts.rows.rows.length} of ${this.rows.length} rows are shown`);
  }

  rowOf(row) {
    const day = longDate(row.date, { weekday: "short", month: "short" });
    const words = `${day}, ${row.time || row.end}`;
    const mist = mistOf(row.mist);
    const facts = [`from ${metres(row.height_m)}`, `${distance(row.distance_m)} away`];
    if (mist.kind === "level") facts.push(`mist to ${metres(mist.top_m)}`);
    const has = row.is_here ? row.words.join("; ") : "off the ground of this desk: open it on ground that holds this row";
    const about = [`${row.hill}, ${metres(row.hill_height_m)}`, facts.join(", "), has];
    // a click on the button, by mouse or Enter, is one on its row
    const go = row.to ? made("button", { type: "button" }, words) : words;
    return made(
      "tr",
      row.to ? { onclick: () => this.go(row), "data-spot": row.to.spot } : {},
      made("td", { class: "figure" }, `${row.rank}`),
      made("th", { scope: "row" }, go),
      made("td", {}, ...about.map((line) => made("p", {}, line))),
      made("td", { class: "figure" }, figure(100 * row.score)),
    );
  }

  go(row) {
    const { lattice } = this.supply;
    const ends = [lattice.rowcol(row.lat_deg, row.lon_deg), lattice.rowcol(row.hill_lat_deg, row.hill_lon_deg)];
    this.bench.goTo(row, { ...row.to, map: this.bench.map.windowOf(ends) });
  }

  follow() {
    for (const [number, row] of [...this.parts.rows.rows].entries()) {
      const { to } = this.rows[number];
      if (to) row.querySelector("button").setAttribute("aria-pressed", `${this.isChosen(to)}`);
    }
  }
}
