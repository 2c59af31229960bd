// Keeps the screen on while the page is looked at, where the browser can: by a wake lock (Screen Wake
// Lock, for https and localhost only), else by a silent film, of which it is not sure that it helps.

import { memory } from "./dom.js";
import { Film } from "./film.js";

export class Awake {
  constructor(onChange) {
    this.onChange = onChange;
    this.wanted = memory.get("awake", "on") === "on";
    this.lock = null;
    this.failed = false;
    this.film = new Film(onChange);
    document.addEventListener("visibilitychange", () => this.keep());
    for (const kind of ["pointerdown", "keydown"]) {
      document.addEventListener(kind, () => this.#needsFilm && this.film.play(), { capture: true });
    }
  }

  /**
   * "on": by a lock, for sure. "film": it should stay on. "waiting": for a touch, to begin the film.
   * "off": not wanted. "impossible": nothing can be done here.
   */
  get state() {
    if (!this.wanted) return "off";
    if (this.lock) return "on";
    if (this.film.plays) return "film";
    if ("wakeLock" in navigator && !this.failed) return "asking";
    return Film.isPossible ? "waiting" : "impossible";
  }

  get #needsFilm() {
    return this.wanted && !this.lock && Film.isPossible && (this.failed || !("wakeLock" in navigator));
  }

  want(wanted) {
    this.wanted = wanted;
    memory.set("awake", wanted ? "on" : "off");
    return this.keep();
  }

  async keep() {
    if (!this.wanted) {
      await this.lock?.release();
      this.lock = null;
      this.film.stop();
    } else if (document.visibilityState === "visible") {
      await this.#lock();
      if (this.#needsFilm) await this.film.play();
    }
    this.onChange();
  }

  async #lock() {
    if (this.lock || !("wakeLock" in navigator)) return;
    try {
      this.lock = await navigator.wakeLock.request("screen");
      this.failed = false;
      this.film.stop();
      this.lock.addEventListener("release", () => {
        this.lock = null;
        this.onChange();
      });
    } catch {
      this.failed = true;
    }
  }
}
