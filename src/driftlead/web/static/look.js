// Day, or night: dim red on black. By itself it is night from sunset to sunrise where she lies.

import { memory } from "./dom.js";
import { isDark } from "./sun.js";

const NIGHT_BEGINS_H = 19;
const NIGHT_ENDS_H = 7;

export class Look {
  constructor(onChange) {
    this.onChange = onChange;
    this.choice = memory.get("look", "auto");
    this.now = null;
    this.shown = null;
    // Until the position is known: as it was last, so that nobody is dazzled.
    this.#show(this.choice === "auto" ? memory.get("look-shown", this.#byClock()) : this.choice);
  }

  choose(choice) {
    this.choice = choice;
    memory.set("look", choice);
    this.heed(this.now);
  }

  /** Looks at the sun, with the receiver's time and place where they are known. */
  heed(now) {
    this.now = now;
    if (this.choice !== "auto") {
      this.#show(this.choice);
      return;
    }
    const place = now?.position ?? now?.anchor ?? null;
    if (!place) {
      if (now) this.#show(this.#byClock());
      return;
    }
    const at = now.utc ? new Date(now.utc) : new Date();
    this.#show(isDark(at, place.lat, place.lon) ? "night" : "day");
  }

  #byClock() {
    const hour = new Date().getHours();
    return hour >= NIGHT_BEGINS_H || hour < NIGHT_ENDS_H ? "night" : "day";
  }

  #show(look) {
    if (look === this.shown) return;
    this.shown = look;
    document.documentElement.dataset.look = look;
    memory.set("look-shown", look);
    this.onChange();
  }
}
