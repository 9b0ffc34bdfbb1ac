/** The season: its days, which hill, and from where; a day moves everything to it. */

import { clockOf, figure, longDate, made } from "./words.js";

export class SeasonPane {
  constructor(bench, root) {
    Object.assign(this, bench, { bench, root });
    const found = (name) => root.querySelector(name);
    this.parts = {
      ...{ from: found("#season-from"), to: found("#season-to"), find: found("#season-find") },
      ...{ stop: found("#season-stop"), progress: found("progress"), said: found(".said") },
      ...{ rows: found("tbody"), table: found("table"), notes: found(".notes") },
    };
    this.end = () => {};
    for (const name of ["from", "to"]) {
      this.parts[name].addEventListener("change", () => {
        if (this.parts[name].value) this.state.set({ [name]: this.parts[name].value }, { step: true });
      });
    }
    this.parts.find.addEventListener("click", () => this.search());
    this.parts.stop.addEventListener("click", () => this.stop("stopped"));
    this.state.listen(() => this.follow());
    this.follow();
  }

  follow() {
    for (const name of ["from", "to"]) this.parts[name].value = this.state.get(name);
    for (const button of this.parts.rows.querySelectorAll("button")) {
      const { date, hill } = button.dataset;
      button.setAttribute("aria-pressed", `${date === this.state.get("date") && hill === this.state.get("hill")}`);
    }
  }

  search() {
    this.stop("");
    const part = (name) => this.state.get(name);
    const query = { from: part("from"), to: part("to"), end: part("end"), mist: part("mist") };
    this.parts.table.hidden = true;
    this.parts.notes.replaceChildren();
    this.parts.stop.hidden = false;
    this.parts.progress.hidden = false;
    this.parts.progress.value = 0;
    this.parts.said.textContent = "going through the days";
    this.voice.say("going through the days");
    const rows = [];
    this.end = this.source.stream("season", { ...query, job: `${Date.now() % 1e9}` }, {
      progress: ({ done, words }) => {
        this.parts.progress.value = done;
        this.parts.said.textContent = `${words}: ${done} %`;
      },
      row: (row) => rows.push(row),
      end: ({ words }) => this.show(rows, words),
      wrong: (line) => this.stop(line),
    });
  }

  stop(line) {
    this.end();
    this.end = () => {};
    this.parts.stop.hidden = true;
    this.parts.progress.hidden = true;
    this.parts.said.textContent = line;
    if (line) this.voice.say(line);
  }

  show(rows, words) {
    this.stop(words[0]);
    this.parts.rows.replaceChildren(...rows.map((row) => this.rowOf(row)));
    this.parts.table.hidden = !rows.length;
    this.parts.notes.replaceChildren(...words.slice(1).map((line) => made("p", {}, line)));
    this.follow();
  }

  rowOf(row) {
    const date = row.day.slice(0, 10);
    const hill = this.bench.hillNamed(row.hill, row.hill_lat_deg, row.hill_lon_deg);
    const words = longDate(date, { weekday: "short", month: "short", year: undefined });
    const go = made("button", { type: "button", onclick: () => this.bench.goTo(row, { date, hill, time: clockOf(row.best_at) }) }, words);
    Object.assign(go.dataset, { date, hill });
    const score = row.score === undefined || row.score === null ? "" : figure(100 * row.score);
    return made(
      "tr",
      {},
      made("th", { scope: "row" }, go),
      made("td", {}, row.hill),
      made("td", {}, row.words.join("; ")),
      made("td", { class: "figure" }, score),
    );
  }
}
