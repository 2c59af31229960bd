// The night as curves: distance, wind, depth, and for a replay the chance that the anchor has moved.

import { Canvas, write } from "./canvas.js";
import { decimate, range } from "./decimate.js";
import { palette } from "./palette.js";
import { clock, depth, length, percent, wind } from "./units.js";

const LEFT = 8;
const RIGHT = 8;
const FOOT = 20;
const LEAST_SPAN_S = 600;
const LONGEST_GAP_S = 120;
const TICKS_S = [60, 300, 600, 900, 1800, 3600, 7200, 14400, 28800];
const LANES = [
  { name: "Distance", column: "distance_m", show: length, floor: 0, least: 10 },
  { name: "Wind", column: "wind_mps", show: wind, floor: 0, least: 5 },
  { name: "Depth", column: "depth_m", show: depth, floor: null, least: 1 },
];
const CHANCE = { name: "Chance that it has moved", column: "confidence", show: percent, floor: 0, most: 1 };

/** Adds a thin band from one point to another to the path: where points are pixels apart. */
function slope(pen, x0, y0, x1, y1) {
  pen.moveTo(x0, y0 - 0.75);
  pen.lineTo(x1, y1 - 0.75);
  pen.lineTo(x1, y1 + 0.75);
  pen.lineTo(x0, y0 + 0.75);
  pen.closePath();
}

export class Series {
  constructor(element, scene) {
    this.scene = scene;
    this.lanes = scene.live ? LANES : [...LANES, CHANCE];
    this.said = "";
    this.canvas = new Canvas(element, (pen, width, height) => this.#draw(pen, width, height));
    scene.onChange(() => this.canvas.ask());
    const look = (event) => this.#point(event);
    element.addEventListener("pointerdown", (event) => {
      element.setPointerCapture(event.pointerId);
      look(event);
    });
    element.addEventListener("pointermove", (event) => event.buttons && look(event));
  }

  #span() {
    const { track } = this.scene;
    const from = track.firstS ?? 0;
    return [from, Math.max(track.lastS ?? 0, from + LEAST_SPAN_S)];
  }

  #point(event) {
    const [from, to] = this.#span();
    const width = this.canvas.width - LEFT - RIGHT;
    const along = (event.offsetX - LEFT) / width;
    if (this.scene.track.size) this.scene.lookBack(from + Math.max(0, along) * (to - from));
  }

  #draw(pen, width, height) {
    const colours = palette();
    pen.fillStyle = colours.paper;
    pen.fillRect(0, 0, width, height);
    const [from, to] = this.#span();
    const wide = width - LEFT - RIGHT;
    const x = (s) => LEFT + ((s - from) / (to - from)) * wide;
    const tall = (height - FOOT) / this.lanes.length;
    this.#ticks(pen, colours, x, from, to, height);
    this.#events(pen, colours, x, from, to, height);
    this.lanes.forEach((lane, i) => {
      this.#lane(pen, colours, lane, { from, to, wide, top: i * tall, tall });
    });
    if (this.scene.lookBackS !== null) {
      pen.fillStyle = colours.doubt;
      pen.fillRect(x(this.scene.lookBackS) - 1, 0, 2, height);
    }
  }

  #lane(pen, colours, lane, { from, to, wide, top, tall }) {
    const { track } = this.scene;
    const count = Math.max(1, Math.floor(wide));
    const curve = decimate(track.columns.run_s, track.columns[lane.column], track.size, from, to, count);
    pen.strokeStyle = colours.line;
    pen.lineWidth = 1;
    pen.beginPath();
    pen.moveTo(LEFT, top + tall - 0.5);
    pen.lineTo(LEFT + wide, top + tall - 0.5);
    pen.stroke();
    const found = range(curve);
    const label = { colour: colours.ink, paper: colours.paper, size: 12 };
    if (!found) {
      write(pen, `${lane.name}: not known`, LEFT, top + 12, { ...label, colour: colours.quiet });
      return;
    }
    const circle = lane.column === "distance_m" ? this.#radius(from, to, count) : null;
    let [least, most] = [lane.floor ?? found[0], lane.most ?? Math.max(found[1], circle?.most ?? -Infinity)];
    most = Math.max(most, least + (lane.least ?? 0));
    const pad = (most - least) * 0.06;
    least -= lane.floor === null ? pad : 0;
    most += pad;
    const y = (value) => top + 22 + (tall - 26) * (1 - (value - least) / (most - least));
    if (circle) {
      pen.setLineDash([6, 4]);
      pen.strokeStyle = colours.danger;
      pen.beginPath();
      circle.high.forEach((value, i) => {
        if (!Number.isNaN(value)) pen.lineTo(LEFT + (i * wide) / count, y(value));
      });
      pen.lineTo(LEFT + wide, y(circle.now));
      pen.stroke();
      pen.setLineDash([]);
      write(pen, `circle ${length(circle.now)}`, LEFT + wide, top + 12, { ...label, colour: colours.danger, align: "right" });
    }
    // A replay at speed has points far apart; the live track has one every few seconds.
    const longest = this.scene.live ? (LONGEST_GAP_S / (to - from)) * count : Infinity;
    this.#curve(pen, colours, curve, y, wide / count, Math.max(3, longest));
    const last = lane.show(found[1]);
    write(pen, `${lane.name}  ${lane.show(found[0])} to ${last}`, LEFT, top + 12, label);
  }

  /** The drag circle over the night: it breathes with the tide. Null where none is known now. */
  #radius(from, to, count) {
    const { track, now } = this.scene;
    if (now == null || now.radius_m === null) return null;
    const curve = decimate(track.columns.run_s, track.columns.radius_m, track.size, from, to, count);
    return { high: curve.high, now: now.radius_m, most: Math.max(now.radius_m, range(curve)?.[1] ?? 0) };
  }

  #curve(pen, colours, { low, high, unknown }, y, step, longest) {
    // Upright bars, each reaching to the one before, are filled far sooner than a line is stroked.
    pen.fillStyle = colours.track;
    pen.beginPath();
    let [lastTop, lastBottom] = [0, 0];
    let last = -Infinity;
    let broken = true;
    for (let i = 0; i < low.length; i += 1) {
      if (Number.isNaN(low[i])) {
        broken ||= unknown[i] === 1;
        continue;
      }
      const [top, bottom] = [y(high[i]), y(low[i])];
      const joined = !broken && i - last <= longest;
      if (joined && i - last > 1) slope(pen, LEFT + (last + 0.5) * step, lastBottom, LEFT + (i + 0.5) * step, bottom);
      const beside = joined && i - last === 1;
      const from = beside ? Math.min(top, lastBottom) : top;
      const to = beside ? Math.max(bottom, lastTop) : bottom;
      pen.rect(LEFT + i * step, from - 0.75, step, to - from + 1.5);
      [lastTop, lastBottom] = [top, bottom];
      broken = false;
      last = i;
    }
    pen.fill();
  }

  #ticks(pen, colours, x, from, to, height) {
    const { track } = this.scene;
    const latest = track.indexAt(track.lastS ?? 0);
    const utc = latest < 0 ? null : track.at(latest).utc_s;
    if (utc === null) return;
    const ahead = utc - track.lastS - new Date(utc * 1000).getTimezoneOffset() * 60;
    const most = Math.max(2, Math.floor((x(to) - x(from)) / 56));
    const step = TICKS_S.find((each) => (to - from) / each <= most) ?? TICKS_S.at(-1);
    pen.strokeStyle = colours.line;
    pen.lineWidth = 1;
    for (let s = Math.ceil((from + ahead) / step) * step - ahead; s <= to; s += step) {
      pen.beginPath();
      pen.moveTo(x(s), 0);
      pen.lineTo(x(s), height - FOOT);
      pen.stroke();
      const at = Math.max(20, Math.min(x(to) - 14, x(s)));
      write(pen, clock(utc + s - track.lastS), at, height - FOOT / 2, {
        colour: colours.quiet, paper: colours.paper, size: 12, align: "center",
      });
    }
  }

  /** A mark for each alarm and change of state. */
  #events(pen, colours, x, from, to, height) {
    for (const { run_s: at, event } of this.scene.events) {
      if (at < from || at > to) continue;
      const alarm = event.kind === "alert" && event.priority !== "caution";
      if (event.kind === "alert" && (!alarm || event.state !== "active_unacknowledged")) continue;
      pen.fillStyle = alarm ? colours.danger : colours.line;
      pen.fillRect(x(at) - 1, 0, 2, height - FOOT);
    }
  }

  /** The same in words, for those who do not see it. */
  words() {
    const { track } = this.scene;
    if (!track.size) return "No track yet.";
    const [from, to] = this.#span();
    const parts = this.lanes.map((lane) => {
      const found = range(decimate(track.columns.run_s, track.columns[lane.column], track.size, from, to, 1));
      return found ? `${lane.name} from ${lane.show(found[0])} to ${lane.show(found[1])}` : `${lane.name} not known`;
    });
    return `${parts.join("; ")}.`;
  }
}
