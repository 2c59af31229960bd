// The wire to the daemon, and whether it still speaks. Silence is the news here: a page that shows
// old figures as if they were new is worse than none.

export const SILENCE_LIMIT_S = 4;
const LOOK_EVERY_MS = 250;
const REOPEN_EVERY_S = 3;
const LATE_LIMIT_S = 4;
const CLOCK_ERROR = 0.001;
const LONGEST_CREEP_MS = 60e3;

export class Link {
  /**
   * `open(after)` makes an EventSource. `hear` takes messages: now, event, opened, lost, found.
   */
  constructor({ open, hear, lastId }) {
    this.open = open;
    this.hear = hear;
    this.lastId = lastId;
    this.source = null;
    this.openedMs = 0;
    this.heardMs = Date.now();
    this.lost = false;
    /** Refused for want of pairing: it is no use to knock. */
    this.barred = false;
    this.leastDelayMs = Infinity;
  }

  start() {
    this.heardMs = Date.now();
    this.#reopen();
    this.timer ??= setInterval(() => this.look(), LOOK_EVERY_MS);
    document.addEventListener("visibilitychange", () => this.look());
    window.addEventListener("online", () => this.#reopen());
  }

  /** Opens it anew, as after pairing. */
  restart() {
    this.#reopen();
  }

  get silentS() {
    return (Date.now() - this.heardMs) / 1000;
  }

  /** Looks whether it has been silent for too long, and knocks again if so. */
  look() {
    if (this.silentS < SILENCE_LIMIT_S || this.barred) return;
    if (!this.lost) {
      this.lost = true;
      this.hear.lost();
    }
    // The browser reconnects by itself after most failures, but not after a refusal, and not while
    // it still believes in a connection whose other end has gone.
    if (Date.now() - this.openedMs > REOPEN_EVERY_S * 1000) this.#reopen();
  }

  #reopen() {
    this.source?.close();
    this.openedMs = Date.now();
    this.leastDelayMs = Infinity;
    const source = this.open(this.lastId());
    this.source = source;
    const listen = (name, take) =>
      source.addEventListener(name, (message) => {
        if (this.source !== source) return;
        let data;
        try {
          data = JSON.parse(message.data);
        } catch {
          return;
        }
        if (!this.#isFresh(data)) return;
        this.#heard();
        take(data);
      });
    source.addEventListener("open", () => this.source === source && this.hear.opened());
    source.addEventListener("error", () => {
      if (this.source === source && source.readyState === EventSource.CLOSED) this.hear.refused();
    });
    listen("now", (data) => this.hear.now(data));
    listen("beat", () => {});
    listen("alert", (data) => this.hear.event(data));
    listen("state", (data) => this.hear.event(data));
  }

  /**
   * A device that slept finds old messages waiting, which would look like new ones: compare the
   * daemon's clock with ours, the quickest message being the measure.
   */
  #isFresh(data) {
    if (!Number.isFinite(data.run_s) || "event" in data) return true;
    const delayMs = Date.now() - data.run_s * 1000;
    // Two clocks never go quite alike; over a night that must not look like a delay.
    const creepMs = Math.min(Date.now() - this.heardMs, LONGEST_CREEP_MS) * CLOCK_ERROR;
    this.leastDelayMs = Math.min(this.leastDelayMs + Math.max(0, creepMs), delayMs);
    return delayMs - this.leastDelayMs < LATE_LIMIT_S * 1000;
  }

  #heard() {
    this.heardMs = Date.now();
    if (!this.lost) return;
    this.lost = false;
    this.hear.found();
  }
}
