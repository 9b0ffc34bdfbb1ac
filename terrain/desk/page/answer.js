/** What is said of the spot, the hill and the day: the answer of `terrain sunrise`, in its words. */

import { made, told } from "./words.js";
import { numbersOf } from "./state.js";
import { newest, rest } from "./ask.js";

const ASK_MS = 350;
const SCENES_MS = 1500;

export class SpotAnswer {
  constructor(bench, root) {
    Object.assign(this, bench, { bench, root });
    this.newest = newest();
    const parts = ["spot", "eye", "hill", "date", "end", "mist", "lens"];
    this.state.listen((changed) => {
      const held = ["eye", "mist"].some((part) => changed.has(part));
      if (parts.some((part) => changed.has(part))) this.bring(held ? ASK_MS : 0);
    });
  }

  /** Asks for the answer, and once that has stood for a while for the small scenes too.
   *
   * wait_ms: before that, where what is asked may be moving still, as a slider is; a click is done.
   */
  async bring(wait_ms = 0) {
    const spot = numbersOf(this.state.get("spot"));
    this.root.setAttribute("aria-busy", "true");
    if (!spot || !this.state.get("hill")) {
      this.root.removeAttribute("aria-busy");
      this.root.replaceChildren();
      return;
    }
    const part = (name) => this.state.get(name);
    const where = { lat_deg: spot[0], lon_deg: spot[1], eye_m: part("eye"), lens_mm: part("lens") };
    const query = { ...where, hill: part("hill"), date: part("date"), end: part("end"), mist: part("mist") };
    try {
      await this.newest(async (signal) => {
        if (wait_ms > 0) await rest(wait_ms, signal);
        const answer = await this.source.answer({ ...query, scenes: 0 }, signal);
        this.show(answer);
        this.voice.say(answer.words[0]);
        if (!this.source.isServed || part("mist") === "none") return;
        await rest(SCENES_MS, signal);
        this.show(await this.source.answer(query, signal));
      });
    } catch (error) {
      this.root.removeAttribute("aria-busy");
      this.root.replaceChildren(made("p", {}, error.message));
    }
  }

  show(answer) {
    this.root.removeAttribute("aria-busy");
    this.root.replaceChildren(told(answer.words));
  }
}
