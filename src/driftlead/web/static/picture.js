// Plot, curves and the slider back through the night: the same for the live watch and for a replay.

import { byId, part, setHidden, setText } from "./dom.js";
import { Plot } from "./plot.js";
import { Series } from "./series.js";
import { bearing, clock, depth, length, percent, position, wind } from "./units.js";
import { eventWords, methodWords, verdictWords } from "./words.js";
import { nearest } from "./shapes.js";

const WORDS_EVERY_MS = 5000;
const NEAREST_SHOWN = 3;
const LOG_SHOWN = 40;

export class Picture {
  constructor(root, scene) {
    root.append(byId("picture").content.cloneNode(true));
    this.root = root;
    this.scene = scene;
    this.plotCanvas = part(root, "plot");
    this.plot = new Plot(this.plotCanvas, scene);
    this.seriesCanvas = part(root, "series");
    this.series = new Series(this.seriesCanvas, scene);
    this.slider = part(root, "slider");
    this.wordsMs = 0;
    const name = scene.live ? "the present anchoring" : "the replayed night";
    this.slider.setAttribute("aria-label", `Look back through ${name}`);
    this.slider.addEventListener("input", () => {
      scene.lookBack(this.slider.value === this.slider.max ? null : Number(this.slider.value));
    });
    part(root, "present").addEventListener("click", () => scene.lookBack(null));
    setText(part(root, "present"), scene.live ? "Back to now" : "Back to where it plays");
    part(root, "in").addEventListener("click", () => this.plot.zoom(1.4));
    part(root, "out").addEventListener("click", () => this.plot.zoom(1 / 1.4));
    part(root, "fit").addEventListener("click", () => this.plot.zoom(0));
    scene.onChange(() => this.show());
  }

  redraw() {
    this.wordsMs = 0;
    this.plot.canvas.ask();
    this.series.canvas.ask();
  }

  show() {
    const { track, now } = this.scene;
    const { slider } = this;
    setHidden(part(this.root, "night"), track.size < 2);
    if (track.size) {
      slider.min = Math.floor(track.firstS);
      slider.max = Math.ceil(track.lastS);
      if (this.scene.lookBackS === null) slider.value = slider.max;
      else if (Number(slider.value) !== Math.round(this.scene.lookBackS)) slider.value = this.scene.lookBackS;
    }
    const past = this.scene.lookedAt();
    this.root.classList.toggle("looking-back", past !== null);
    setHidden(part(this.root, "past"), past === null);
    if (past) setText(part(this.root, "past-words"), this.#pastWords(past));
    const at = past?.utc_s ?? (now?.utc ? Date.parse(now.utc) / 1000 : null);
    slider.setAttribute("aria-valuetext", past ? this.#pastWords(past) : "now");
    setText(part(this.root, "time"), at === null ? "" : clock(at, { seconds: true }));
    this.#log();
    // Seldom, for a screen reader must not be told of each swing, but never left with old figures.
    const waitMs = this.wordsMs + WORDS_EVERY_MS - Date.now();
    if (waitMs <= 0) this.#words();
    else this.wordsTimer ??= setTimeout(() => this.#words(), waitMs);
  }

  #pastWords(past) {
    const words = [
      past.utc_s === null ? "" : clock(past.utc_s, { seconds: true }),
      past.distance_m === null ? "" : `${length(past.distance_m)} from the anchor`,
      past.wind_mps === null ? "" : `wind ${wind(past.wind_mps)} from ${bearing(past.wind_from_deg)}`,
      past.depth_m === null ? "" : `depth ${depth(past.depth_m)}`,
      past.verdict ? verdictWords(past.verdict).toLowerCase() : "",
      past.radius_m === null ? "" : `circle ${length(past.radius_m)}`,
      past.confidence === null ? "" : `chance that it has moved ${percent(past.confidence)}`,
    ];
    return words.filter(Boolean).join(", ");
  }

  /** The pictures in words: for screen readers, and for anybody who wants the figures. */
  #words() {
    const { now } = this.scene;
    clearTimeout(this.wordsTimer);
    this.wordsTimer = null;
    if (!now) return;
    this.wordsMs = Date.now();
    const lines = [];
    if (now.on_watch && now.anchor) {
      const sure = now.anchor.sigma_m * 2.448;
      lines.push(`Anchor at ${position(now.anchor)}, ${methodWords(now.anchor.method)}; nineteen times in twenty within ${length(sure)} of there.`);
    }
    if (now.on_watch && now.distance_m !== null) {
      const circle = now.radius_m === null ? "" : ` The circle is ${length(now.radius_m)}.`;
      lines.push(`She lies ${length(now.distance_m)} from it, bearing ${bearing(now.bearing_deg)}.${circle}`);
    }
    if (now.position) lines.push(`Antenna at ${position(now.position)}${now.heading_deg === null ? "" : `, heading ${bearing(now.heading_deg)}`}.`);
    lines.push(...this.#around(now));
    const text = lines.join(" ");
    setText(part(this.root, "plot-words"), text);
    setText(part(this.root, "series-words"), this.series.words());
    this.plotCanvas.setAttribute("aria-label", `Plot, north up. ${text}`);
    this.seriesCanvas.setAttribute("aria-label", `Curves. ${this.series.words()}`);
  }

  #around(now) {
    if (!now.position || !this.scene.surroundings.length) return [];
    const her = [now.position.east_m, now.position.north_m];
    const found = this.scene.surroundings
      .map((shape) => ({ shape, ...nearest(shape, her) }))
      .sort((a, b) => a.distanceM - b.distanceM)
      .slice(0, NEAREST_SHOWN)
      .map(({ shape, distanceM, east, north }) => {
        const towards = bearing((Math.atan2(east, north) * 180) / Math.PI);
        return `${shape.name} (${shape.boat ? "a boat's circle" : shape.kind}) ${length(distanceM)}, ${towards}`;
      });
    return [`Nearest to the antenna: ${found.join("; ")}.`];
  }

  #log() {
    const items = this.scene.events.slice(-LOG_SHOWN).reverse();
    const key = `${items[0]?.id}:${items.length}`;
    if (this.logKey === key) return;
    this.logKey = key;
    part(this.root, "log").replaceChildren(
      ...items.map(({ event }) => {
        const line = document.createElement("li");
        const at = event.t ? clock(Date.parse(event.t) / 1000, { seconds: true }) : "--:--";
        line.textContent = `${at}  ${eventWords(event)}`;
        return line;
      }),
    );
    setHidden(part(this.root, "log-box"), items.length === 0);
  }
}
