/** The controls that many parts of the page share: hill, day, mist, clock, lens, and the tabs. */

import { altitude, direction, longDate, made, metres, place } from "./words.js";
import { mistOf, mistText, numbersOf } from "./state.js";

const TOP_STEP_M = 1;
const DEPTH_M = 60;
const HALF_DAYS = 182;
const NORTH = "Jan Feb Mar Apr May Jun";
const SOUTH = "Jul Aug Sep Oct Nov Dec";
const WIDE = "(min-width: 900px)";

const byId = (id) => document.getElementById(id);

export class Controls {
  constructor(bench) {
    Object.assign(this, bench, { bench });
    const { lowest, highest } = this.bench.heights;
    Object.assign(byId("top"), { min: Math.ceil(lowest), max: Math.floor(highest), step: TOP_STEP_M });
    Object.assign(byId("ceiling"), { min: Math.ceil(lowest), max: Math.floor(highest), step: TOP_STEP_M });
    this.last = { level: this.bench.middle, depth_m: DEPTH_M, ceiling_m: this.bench.middle };
    this.fill();
    this.listen();
    this.follow();
    this.state.listen(() => this.follow());
    this.supply.listen((kind) => {
      if (kind === "sun" || kind === "light") this.followClock();
      if (kind === "busy") this.followWork();
    });
  }

  fill() {
    const { about } = this.supply;
    const named = about.summits.filter(({ name }) => name);
    const others = about.summits.filter(({ name }) => !name).slice(0, 40);
    const option = (summit) => {
      const text = summit.name || place(summit.lat_deg, summit.lon_deg);
      return made("option", { value: this.bench.hillText(summit) }, `${text}, ${metres(summit.height_m)}`);
    };
    byId("hill").append(...[...named, ...others].map(option));
    const places = about.places.map(({ name }) => made("option", { value: name }));
    byId("place-names").append(...places);
    byId("lens").append(...lensesOf(about.kit).map((lens) => made("option", { value: `${lens}` }, `${lens} mm`)));
    const starts = about.places.filter(({ kind }) => kind === "start");
    byId("start-names").append(...starts.map(({ name }) => made("option", { value: name })));
    if (!starts.length) byId("take-start").placeholder = "a name, or LAT,LON";
  }

  listen() {
    const step = (id, part) =>
      byId(id).addEventListener("change", () => {
        if (byId(id).value) this.state.set({ [part]: byId(id).value }, { step: true });
      });
    step("date", "date");
    step("end", "end");
    step("eye", "eye");
    step("lens", "lens");
    byId("end").addEventListener("change", () => this.state.set({ time: "" }));
    byId("hill").addEventListener("change", () => this.state.set({ hill: byId("hill").value, look: "" }, { step: true }));
    byId("over").addEventListener("change", () => this.state.set({ over: byId("over").value }));
    byId("hidden").addEventListener("change", () => this.state.set({ hidden: byId("hidden").checked ? "1" : "" }));
    byId("where").addEventListener("submit", (event) => {
      event.preventDefault();
      this.standNamed(byId("spot").value.trim());
    });
    for (const kind of ["none", "level", "valley"]) {
      byId(`mist-${kind}`).addEventListener("change", () => this.changeMist(kind, true));
    }
    byId("top").addEventListener("input", () => this.changeMist("level", false));
    for (const id of ["depth", "ceiling"]) byId(id).addEventListener("input", () => this.changeMist("valley", false));
    byId("clock").addEventListener("input", () => this.changeClock());
    for (const id of ["top", "depth", "ceiling", "clock"]) byId(id).addEventListener("change", () => this.state.write());
    const tabs = [...document.querySelectorAll("[role=tab]")];
    for (const tab of tabs) {
      tab.addEventListener("click", () => this.state.set({ tab: tab.dataset.tab }, { step: true }));
      tab.addEventListener("keydown", (event) => this.walkTabs(event, tabs));
    }
    matchMedia(WIDE).addEventListener("change", () => this.followTabs());
  }

  changeMist(kind, step) {
    if (kind === "level" && !step) this.last.level = Number(byId("top").value);
    if (kind === "valley" && !step) {
      this.last.depth_m = Number(byId("depth").value);
      this.last.ceiling_m = Number(byId("ceiling").value);
    }
    const { level, depth_m, ceiling_m } = this.last;
    this.state.set({ mist: mistText({ kind, top_m: level, depth_m, ceiling_m }) }, { step });
    if (!step) this.voice.say(byId(kind === "level" ? "top-said" : "ceiling-said").textContent);
  }

  changeClock() {
    const minute = this.supply.sun?.minutes[Number(byId("clock").value)];
    if (!minute) return;
    this.state.set({ time: minute.clock });
    this.voice.say(byId("clock-said").textContent);
  }

  /** Stands at a place that was typed: its name, or LAT,LON. */
  standNamed(text) {
    const known = [...this.supply.about.places, ...this.supply.about.summits];
    const named = known.find(({ name }) => name && name.toLowerCase() === text.toLowerCase());
    const [lat_deg, lon_deg] = named ? [named.lat_deg, named.lon_deg] : (numbersOf(text) ?? []);
    if (Number.isFinite(lat_deg) && Number.isFinite(lon_deg)) {
      this.voice.complain("");
      this.bench.standAt(lat_deg, lon_deg);
    } else this.voice.complain(`"${text}" is no place that is known here: give its name, or LAT,LON`);
  }

  walkTabs(event, tabs) {
    const step = { ArrowRight: 1, ArrowLeft: -1 }[event.key];
    if (!step) return;
    const shown = tabs.filter((tab) => tab.offsetParent !== null);
    const next = shown[(shown.indexOf(event.currentTarget) + step + shown.length) % shown.length];
    next.focus();
    next.click();
  }

  follow() {
    const part = (name) => this.state.get(name);
    for (const id of ["date", "end", "lens", "over"]) if (byId(id).value !== part(id)) this.choose(byId(id), part(id));
    this.choose(byId("hill"), part("hill"));
    if (document.activeElement !== byId("eye")) byId("eye").value = part("eye");
    byId("hidden").checked = part("hidden") === "1";
    if (document.activeElement !== byId("spot")) byId("spot").value = this.bench.spotName(part("spot"));
    const title = `${part("hill")}, ${longDate(part("date"))}`;
    if (document.title !== title) document.title = title;
    this.followMist();
    this.followKey();
    this.followClock();
    this.followTabs();
  }

  /** Selects a value, and adds it where the list does not have it. */
  choose(select, value) {
    const has = select.tagName !== "SELECT" || [...select.options].some((each) => each.value === value);
    if (!has) select.append(made("option", { value }, select.id === "lens" ? `${value} mm` : value));
    select.value = value;
  }

  followMist() {
    const mist = mistOf(this.state.get("mist"));
    byId(`mist-${mist.kind}`).checked = true;
    if (mist.kind === "level") this.last.level = mist.top_m;
    if (mist.kind === "valley") Object.assign(this.last, { depth_m: mist.depth_m, ceiling_m: mist.ceiling_m });
    byId("top").value = this.last.level;
    byId("depth").value = this.last.depth_m;
    byId("ceiling").value = this.last.ceiling_m;
    byId("level-parts").hidden = mist.kind !== "level";
    byId("valley-parts").hidden = mist.kind !== "valley";
    this.say("top", metres(this.last.level));
    this.say("depth", metres(this.last.depth_m));
    this.say("ceiling", metres(this.last.ceiling_m));
  }

  /** The key to the colours of the days, a month beside the next. */
  followKey() {
    const over = this.state.get("over");
    const key = byId("days-key");
    if (key.hidden === !over && key.dataset.over === over) return;
    key.hidden = !over;
    key.dataset.over = over;
    if (!over) return;
    const months = (over === "north" ? NORTH : SOUTH).split(" ");
    const first = over === "north" ? 0 : HALF_DAYS;
    const canvas = key.querySelector("canvas");
    canvas.width = HALF_DAYS;
    const context = canvas.getContext("2d");
    for (let day = 0; day < HALF_DAYS; day += 1) {
      context.fillStyle = this.colours.days[first + day];
      context.fillRect(day, 0, 1, 1);
    }
    key.querySelector(".months").replaceChildren(...months.map((name) => made("span", {}, name)));
    key.setAttribute("aria-label", `Colours of the days, from ${months[0]} to ${months.at(-1)}`);
  }

  followClock() {
    const { minute, sun } = this.supply;
    byId("clock").disabled = !minute;
    if (!minute) return;
    byId("clock").max = sun.minutes.length - 1;
    byId("clock").value = minute.place;
    const { clock, azimuth_deg, altitude_deg } = minute;
    this.say("clock", `${clock}, sun ${direction(azimuth_deg)}, ${altitude(altitude_deg)}`);
  }

  /** Writes what a slider says beside it, and for who does not see that. */
  say(id, words) {
    if (byId(`${id}-said`).textContent === words) return;
    byId(`${id}-said`).textContent = words;
    byId(id).setAttribute("aria-valuetext", words);
  }

  followWork() {
    const words = [...this.supply.busy.values()];
    const line = words.length ? `Working out ${words.join(", ")} …` : "";
    // the same text put anew is drawn anew
    if (byId("work").textContent !== line) byId("work").textContent = line;
  }

  followTabs() {
    const isWide = matchMedia(WIDE).matches;
    // a link may be of a desk that has a survey
    const said = byId(`tab-${this.state.get("tab")}`).hidden ? "seen" : this.state.get("tab");
    const shown = isWide && said === "map" ? "seen" : said;
    for (const tab of document.querySelectorAll("[role=tab]")) {
      const isChosen = tab.dataset.tab === shown;
      tab.setAttribute("aria-selected", `${isChosen}`);
      tab.tabIndex = isChosen ? 0 : -1;
      byId(tab.getAttribute("aria-controls")).hidden = !isChosen && !(isWide && tab.dataset.tab === "map");
    }
  }
}

/** The lenses of a kit one by one; of a zoom its ends. */
function lensesOf({ lenses_mm }) {
  return [...new Set(lenses_mm.flat())].sort((one, other) => one - other);
}
