// Keeps the screen on while the page is looked at, where the browser can (Screen Wake Lock).

import { memory } from "./dom.js";

export class Awake {
  constructor(onChange) {
    this.onChange = onChange;
    this.wanted = memory.get("awake", "on") === "on";
    this.lock = null;
    this.failed = false;
    document.addEventListener("visibilitychange", () => this.keep());
  }

  /** "off", "on", "impossible" here, or "refused" by the browser. */
  get state() {
    if (!("wakeLock" in navigator)) return "impossible";
    if (!this.wanted) return "off";
    if (this.lock) return "on";
    return this.failed ? "refused" : "off";
  }

  want(wanted) {
    this.wanted = wanted;
    memory.set("awake", wanted ? "on" : "off");
    return this.keep();
  }

  async keep() {
    if (!("wakeLock" in navigator)) {
      this.onChange();
      return;
    }
    if (!this.wanted) {
      await this.lock?.release();
      this.lock = null;
    } else if (!this.lock && document.visibilityState === "visible") {
      try {
        this.lock = await navigator.wakeLock.request("screen");
        this.lock.addEventListener("release", () => {
          this.lock = null;
          this.onChange();
        });
        this.failed = false;
      } catch {
        this.failed = true;
      }
    }
    this.onChange();
  }
}
