/** Words and figures of the page, and the small pieces of it that are made by script. */

const POINTS = "N NNE NE ENE E ESE SE SSE S SSW SW WSW W WNW NW NNW".split(" ");
const MINUS = "−";

/** A number with a true minus sign. */
export function figure(value, digits = 0) {
  const text = Math.abs(value).toFixed(digits);
  return value < 0 && Number(text) !== 0 ? MINUS + text : text;
}

export const metres = (value) => `${figure(value)} m`;

/** A distance as a walker says it. */
export function distance(value_m) {
  return value_m < 1000 ? `${Math.round(value_m / 10) * 10} m` : `${figure(value_m / 1000, 1)} km`;
}

/** A direction from true north: "ESE 105°". */
export function direction(azimuth_deg) {
  const turned = ((azimuth_deg % 360) + 360) % 360;
  return `${POINTS[Math.round(turned / 22.5) % 16]} ${Math.round(turned) % 360}°`;
}

/** An angle over the level: "1.3° up" or "0.6° down". */
export function altitude(value_deg) {
  return `${Math.abs(value_deg).toFixed(1)}° ${value_deg < 0 ? "below" : "above"} the level`;
}

/** A place by its coordinates: "54.4066° N, 24.0638° W". */
export function place(lat_deg, lon_deg) {
  const north = `${Math.abs(lat_deg).toFixed(4)}° ${lat_deg < 0 ? "S" : "N"}`;
  return `${north}, ${Math.abs(lon_deg).toFixed(4)}° ${lon_deg < 0 ? "W" : "E"}`;
}

/** A date in full: "Tuesday 13 October 2026". */
export function longDate(date, options = {}) {
  const day = new Date(`${date}T12:00:00Z`);
  if (Number.isNaN(day.getTime())) return date;
  const parts = { weekday: "long", day: "numeric", month: "long", year: "numeric", ...options };
  return new Intl.DateTimeFormat("en-GB", { ...parts, timeZone: "UTC" }).format(day).replace(",", "");
}

/** The nearest minute of a moment with its offset, "" for none: "06:15" of 2026-10-13T06:14:42-02:00. */
export function clockOf(moment) {
  const [, ...parts] = moment?.match(/T(\d\d):(\d\d):(\d\d)/) ?? [];
  if (!parts.length) return "";
  const [hours, minutes, seconds] = parts.map(Number);
  // the day has no minute after its last
  const minute = Math.min(60 * hours + minutes + (seconds >= 30 ? 1 : 0), 1439);
  return [minute / 60, minute % 60].map((part) => `${Math.floor(part)}`.padStart(2, "0")).join(":");
}

/** An element of the page: its attributes, and what is in it. */
export function made(tag, attributes = {}, ...content) {
  const element = document.createElement(tag);
  for (const [name, value] of Object.entries(attributes)) {
    if (name.startsWith("on")) element.addEventListener(name.slice(2), value);
    else if (value !== null && value !== false) element.setAttribute(name, value === true ? "" : value);
  }
  element.append(...content.filter((part) => part !== null));
  return element;
}

/** Lines as the commands print them: "what: said" as a list of terms, the rest as sentences. */
export function told(lines) {
  const all = made("div", { class: "told" });
  let terms = null;
  lines.forEach((line, number) => {
    const [, what, said] = line.match(/^([^:.]{1,40}): (.+)$/) ?? [];
    if (what === undefined || number === 0) {
      terms = null;
      all.append(made("p", { class: number === 0 ? "verdict" : null }, line));
      return;
    }
    if (terms === null) all.append((terms = made("dl")));
    terms.append(made("dt", {}, what), made("dd", {}, said));
  });
  return all;
}

/** Says what changed to whoever listens and does not look; the last of quick changes only. */
export class Voice {
  constructor(live, wrong) {
    this.live = live;
    this.wrong = wrong;
    this.waiting = 0;
  }

  say(line) {
    clearTimeout(this.waiting);
    this.waiting = setTimeout(() => {
      this.live.textContent = line;
    }, 250);
  }

  /** An error in one line, or none. */
  complain(line) {
    this.wrong.textContent = line;
    this.wrong.hidden = line === "";
  }
}
