/** The whole state of the desk, and the address that holds it.
 *
 * Every part is a text, as the address has it. A step (another hill, place or day) is kept by the
 * browser's back button; what a slider or a drag changes on the way there is not. A browser draws
 * itself anew for every address, so the address waits until hands rest.
 */

const NUMBER = "-?\\d+(?:\\.\\d+)?";
const FORMS = {
  tab: /^(map|seen|hill|season|survey|take)$/,
  hill: /^.{1,80}$/,
  date: /^\d{4}-\d\d-\d\d$/,
  end: /^(morning|evening)$/,
  time: /^\d\d:\d\d$/,
  mist: new RegExp(`^(none|level:${NUMBER}|valley:${NUMBER}:${NUMBER})$`),
  spot: new RegExp(`^(${NUMBER},${NUMBER})?$`),
  eye: new RegExp(`^${NUMBER}$`),
  lens: new RegExp(`^${NUMBER}$`),
  look: new RegExp(`^(${NUMBER},${NUMBER})?$`),
  map: new RegExp(`^(${NUMBER},${NUMBER},${NUMBER})?$`),
  over: /^(|north|south)$/,
  hidden: /^(|1)$/,
  from: /^\d{4}-\d\d-\d\d$/,
  to: /^\d{4}-\d\d-\d\d$/,
  start: /^.{0,80}$/,
};
const WAIT_MS = 600;

/** A mist of the address by its parts. */
export function mistOf(text) {
  const [kind, ...numbers] = text.split(":");
  if (kind === "level") return { kind, top_m: Number(numbers[0]) };
  if (kind === "valley") return { kind, depth_m: Number(numbers[0]), ceiling_m: Number(numbers[1]) };
  return { kind: "none" };
}

/** The text of a mist for the address. */
export function mistText(mist) {
  if (mist.kind === "level") return `level:${mist.top_m}`;
  return mist.kind === "valley" ? `valley:${mist.depth_m}:${mist.ceiling_m}` : "none";
}

/** The numbers of a part such as "54.4,-23.9"; null for an empty one. */
export const numbersOf = (text) => (text ? text.split(",").map(Number) : null);

/** What of an address is a part of the state; the rest is let go. */
export function readAddress(hash) {
  const found = {};
  for (const [name, value] of new URLSearchParams(hash.replace(/^#/, ""))) {
    if (FORMS[name]?.test(value)) found[name] = value;
  }
  return found;
}

export class State {
  /** defaults: every part as it is where the address says nothing. place: of the address. */
  constructor(defaults, place = { hash: "", write() {} }) {
    this.defaults = defaults;
    this.place = place;
    this.listeners = [];
    this.waiting = 0;
    this.parts = { ...defaults, ...readAddress(place.hash) };
  }

  get(name) {
    return this.parts[name];
  }

  /** The address of what is shown now: only what differs from the defaults. */
  get address() {
    const said = Object.entries(this.parts).filter(([name, text]) => text !== this.defaults[name]);
    return said.length ? `#${new URLSearchParams(said)}` : "#";
  }

  /** Calls `heard` with the names of the parts that changed, whenever some do. */
  listen(heard) {
    this.listeners.push(heard);
  }

  /** Changes some parts; step: whether the back button should return from there. */
  set(parts, { step = false } = {}) {
    const changed = Object.keys(parts).filter((name) => this.parts[name] !== parts[name]);
    if (!changed.length) return;
    if (step) this.write();
    Object.assign(this.parts, parts);
    clearTimeout(this.waiting);
    this.waiting = 0;
    if (step) this.place.write(this.address, { step: true });
    else this.waiting = setTimeout(() => this.write(), WAIT_MS);
    this.tell(changed);
  }

  /** Brings the address to what is shown, at once. */
  write() {
    clearTimeout(this.waiting);
    this.waiting = 0;
    if (this.place.hash !== this.address) this.place.write(this.address, { step: false });
  }

  /** Takes the state of the address, after the back button or another link. */
  follow() {
    const parts = { ...this.defaults, ...readAddress(this.place.hash) };
    const changed = Object.keys(parts).filter((name) => this.parts[name] !== parts[name]);
    this.parts = parts;
    if (changed.length) this.tell(changed);
  }

  tell(changed) {
    const names = new Set(changed);
    for (const heard of this.listeners) heard(names);
  }
}

/** The address of this page, as a State wants it. */
export function pageAddress(page) {
  return {
    get hash() {
      return page.location.hash;
    },
    write(address, { step }) {
      if (step) page.history.pushState(null, "", address);
      else page.history.replaceState(null, "", address);
    },
  };
}
