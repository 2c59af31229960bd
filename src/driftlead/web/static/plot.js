// The plot: the anchor and how well its place is known, the drag circle, the track fading with age,
// the boat to scale, and what lies round her. North is up.

import { Canvas, write } from "./canvas.js";
import { palette } from "./palette.js";
import { offset } from "./plane.js";
import { hull, laid } from "./shapes.js";
import { units, wind } from "./units.js";
import { roundLength, View } from "./view.js";

/** The anchor is within so many sigmas (per axis) nineteen times in twenty: sqrt(-2 ln 0.05). */
export const NINETEEN_OF_TWENTY = 2.448;
const AGES_S = [120, 600, 1800, 3600, 7200, 14400, Infinity];
const STRENGTHS = [1, 0.85, 0.7, 0.55, 0.45, 0.36, 0.28];
const FOOT_M = 0.3048;

export class Plot {
  constructor(element, scene) {
    this.scene = scene;
    this.view = new View();
    this.ghost = null;
    this.canvas = new Canvas(element, (pen, width, height) => this.#draw(pen, width, height));
    this.place = null;
    scene.onChange(() => this.canvas.ask());
  }

  zoom(factor) {
    this.view.zoom = factor === 0 ? 1 : Math.max(0.25, Math.min(16, this.view.zoom * factor));
    if (factor === 0) this.view.forget();
    this.canvas.ask();
  }

  /** What is drawn: the present, or the point looked back at. Metres of the plane, null unknown. */
  #shown() {
    const { now } = this.scene;
    const past = this.scene.lookedAt();
    const at = past
      ? { east: past.east_m, north: past.north_m, heading: past.heading_deg }
      : now.position && {
          east: now.position.east_m,
          north: now.position.north_m,
          heading: now.heading_deg,
        };
    const anchor = now.on_watch && now.anchor
      ? { east: now.anchor.east_m, north: now.anchor.north_m, sigma: now.anchor.sigma_m }
      : null;
    return { at, anchor, circle: this.#circle(anchor, past), past, boat: now.boat };
  }

  /** The drag circle is about the anchor as it was before any drag; it breathes with the tide. */
  #circle(anchor, past) {
    const { now } = this.scene;
    if (!anchor || now.radius_m === null) return null;
    const radius = past?.radius_m ?? now.radius_m;
    if (!now.position || now.distance_m === null || now.bearing_deg === null) {
      return { ...anchor, radius };
    }
    const back = offset(now.bearing_deg, now.distance_m);
    return {
      east: now.position.east_m - back.east,
      north: now.position.north_m - back.north,
      radius,
    };
  }

  #box({ at, anchor, circle, boat }) {
    const box = [Infinity, Infinity, -Infinity, -Infinity];
    const cover = (east, north, round = 0) => {
      box[0] = Math.min(box[0], east - round);
      box[1] = Math.min(box[1], north - round);
      box[2] = Math.max(box[2], east + round);
      box[3] = Math.max(box[3], north + round);
    };
    if (at) cover(at.east, at.north, boat.length_m);
    if (anchor) cover(anchor.east, anchor.north, Math.min(anchor.sigma * NINETEEN_OF_TWENTY, 100));
    if (circle) cover(circle.east, circle.north, circle.radius);
    if (this.ghost) cover(this.ghost.east, this.ghost.north, 5);
    return Number.isFinite(box[0]) ? box : null;
  }

  #draw(pen, width, height) {
    const colours = palette();
    pen.fillStyle = colours.water;
    pen.fillRect(0, 0, width, height);
    if (!this.scene.now) return;
    const shown = this.#shown();
    const box = this.#box(shown);
    if (!box) {
      write(pen, "No position yet", width / 2, height / 2, {
        colour: colours.ink, paper: colours.water, size: 16, align: "center",
      });
      return;
    }
    this.view.fit(box);
    const on = this.view.on(width, height);
    this.place = on;
    this.#surroundings(pen, on, colours);
    if (shown.circle) this.#dragCircle(pen, on, colours, shown.circle);
    this.#track(pen, on, colours);
    if (shown.anchor) this.#anchor(pen, on, colours, shown);
    if (shown.at) this.#boat(pen, on, colours, shown);
    if (this.ghost) this.#ghost(pen, on, colours, shown.anchor);
    this.#furniture(pen, on, colours, width, height);
  }

  #dragCircle(pen, on, colours, circle) {
    const dragging = this.scene.now.verdict === "dragging";
    ring(pen, on.x(circle.east), on.y(circle.north), circle.radius * on.perM);
    pen.fillStyle = colours.paper;
    pen.globalAlpha = 0.55;
    pen.fill();
    pen.globalAlpha = 1;
    pen.strokeStyle = dragging ? colours.danger : colours.ink;
    pen.lineWidth = 2;
    pen.stroke();
  }

  #anchor(pen, on, colours, { anchor, circle, at, boat }) {
    const [x, y] = [on.x(anchor.east), on.y(anchor.north)];
    if (circle && Math.hypot(circle.east - anchor.east, circle.north - anchor.north) > 2) {
      this.#moved(pen, on, colours, circle, [x, y]);
    }
    ring(pen, x, y, anchor.sigma * NINETEEN_OF_TWENTY * on.perM);
    pen.setLineDash([2, 4]);
    pen.strokeStyle = colours.quiet;
    pen.lineWidth = 1.5;
    pen.stroke();
    pen.setLineDash([]);
    if (at) {
      const bow = bowOf(at, boat);
      pen.beginPath();
      pen.moveTo(x, y);
      pen.lineTo(on.x(bow.east), on.y(bow.north));
      pen.setLineDash([7, 4]);
      pen.lineWidth = 1;
      pen.stroke();
      pen.setLineDash([]);
    }
    drawAnchor(pen, x, y, colours.ink, colours.paper);
  }

  /** Where the anchor was, and the way it has come. */
  #moved(pen, on, colours, from, [x, y]) {
    const [x0, y0] = [on.x(from.east), on.y(from.north)];
    pen.strokeStyle = colours.danger;
    pen.lineWidth = 3;
    pen.beginPath();
    pen.moveTo(x0, y0);
    pen.lineTo(x, y);
    pen.stroke();
    ring(pen, x0, y0, 5);
    pen.fillStyle = colours.paper;
    pen.fill();
    pen.stroke();
  }

  #boat(pen, on, colours, { at, boat, past }) {
    const [x, y] = [on.x(at.east), on.y(at.north)];
    const colour = past ? colours.quiet : colours.ink;
    if (at.heading === null) {
      // Which way she lies is not known: she is somewhere within her length of the antenna.
      ring(pen, x, y, Math.max(boat.length_m * on.perM, 6));
      pen.setLineDash([3, 3]);
      pen.strokeStyle = colour;
      pen.lineWidth = 1.5;
      pen.stroke();
      pen.setLineDash([]);
    } else {
      const bow = bowOf(at, boat);
      const outline = laid(hull(boat.length_m), at.heading, bow.east, bow.north);
      trace(pen, on, outline, true);
      pen.fillStyle = past ? colours.paper : colour;
      pen.fill();
      pen.strokeStyle = past ? colour : colours.paper;
      pen.lineWidth = 1.5;
      pen.stroke();
    }
    ring(pen, x, y, 4);
    pen.fillStyle = past ? colours.paper : colours.track;
    pen.fill();
    pen.strokeStyle = past ? colour : colours.paper;
    pen.lineWidth = 1.5;
    pen.stroke();
  }

  /** The track as one line for each age, old ones faint; points closer than a pixel are left out. */
  #track(pen, on, colours) {
    const { track, now, lookBackS } = this.scene;
    const { run_s: times, east_m: east, north_m: north } = track.columns;
    const endS = lookBackS ?? now.run_s;
    pen.strokeStyle = colours.track;
    pen.lineJoin = "round";
    let age = AGES_S.length - 1;
    let lastX = NaN;
    let lastY = NaN;
    pen.beginPath();
    const finish = () => {
      pen.globalAlpha = STRENGTHS[age];
      pen.lineWidth = age < 2 ? 2 : 1;
      pen.stroke();
    };
    for (let i = 0; i < track.size && times[i] <= endS; i += 1) {
      const x = on.x(east[i]);
      const y = on.y(north[i]);
      if (age > 0 && endS - times[i] <= AGES_S[age - 1]) {
        finish();
        while (age > 0 && endS - times[i] <= AGES_S[age - 1]) age -= 1;
        pen.beginPath();
        if (!Number.isNaN(lastX)) pen.moveTo(lastX, lastY);
      }
      if (Number.isNaN(x)) {
        lastX = NaN;
      } else if (Number.isNaN(lastX)) {
        pen.moveTo(x, y);
        lastX = x;
        lastY = y;
      } else if (Math.abs(x - lastX) + Math.abs(y - lastY) >= (age < 2 ? 1 : 2)) {
        pen.lineTo(x, y);
        lastX = x;
        lastY = y;
      }
    }
    if (lookBackS === null && now.position && !Number.isNaN(lastX)) {
      pen.lineTo(on.x(now.position.east_m), on.y(now.position.north_m));
    }
    finish();
    pen.globalAlpha = 1;
  }

  #surroundings(pen, on, colours) {
    for (const shape of this.scene.surroundings) {
      pen.strokeStyle = shape.boat ? colours.quiet : colours.danger;
      pen.lineWidth = shape.boat ? 1.2 : 2;
      if (shape.boat) this.#neighbour(pen, on, colours, shape);
      else this.#danger(pen, on, colours, shape);
    }
  }

  #neighbour(pen, on, colours, shape) {
    const [x, y] = [on.x(shape.points[0][0]), on.y(shape.points[0][1])];
    ring(pen, x, y, shape.radiusM * on.perM);
    pen.setLineDash([8, 5]);
    pen.stroke();
    pen.setLineDash([]);
    ring(pen, x, y, 3);
    pen.stroke();
    if (shape.hull) {
      trace(pen, on, shape.hull, true);
      pen.stroke();
    }
    write(pen, shape.name, x + 7, y, { colour: colours.quiet, paper: colours.water });
  }

  #danger(pen, on, colours, shape) {
    for (const path of shape.rings) {
      trace(pen, on, path, true);
      pen.stroke();
      hatch(pen, colours.danger);
    }
    for (const path of shape.lines) {
      trace(pen, on, path, false);
      pen.lineWidth = 4;
      pen.stroke();
      pen.lineWidth = 2;
    }
    for (const [east, north] of shape.points) {
      const [x, y] = [on.x(east), on.y(north)];
      cross(pen, x, y, 6);
      if (shape.radiusM) {
        ring(pen, x, y, shape.radiusM * on.perM);
        pen.stroke();
      }
    }
    const [east, north] = middle(shape);
    write(pen, shape.name, on.x(east) + 8, on.y(north), { colour: colours.danger, paper: colours.water });
  }

  #ghost(pen, on, colours, anchor) {
    const [x, y] = [on.x(this.ghost.east), on.y(this.ghost.north)];
    if (anchor) {
      pen.beginPath();
      pen.moveTo(on.x(anchor.east), on.y(anchor.north));
      pen.lineTo(x, y);
      pen.strokeStyle = colours.doubt;
      pen.lineWidth = 2;
      pen.stroke();
    }
    ring(pen, x, y, 16);
    pen.strokeStyle = colours.doubt;
    pen.lineWidth = 3;
    pen.stroke();
    drawAnchor(pen, x, y, colours.doubt, colours.paper);
  }

  #furniture(pen, on, colours, width, height) {
    const ink = { colour: colours.ink, paper: colours.water };
    const unit = units.system === "metric" ? ["m", 1] : ["ft", FOOT_M];
    const bar = roundLength((width * 0.3) / on.perM, unit[1]);
    const [x, y] = [14, height - 16];
    pen.strokeStyle = colours.ink;
    pen.lineWidth = 2;
    pen.beginPath();
    pen.moveTo(x, y - 6);
    pen.lineTo(x, y);
    pen.lineTo(x + bar.m * on.perM, y);
    pen.lineTo(x + bar.m * on.perM, y - 6);
    pen.stroke();
    write(pen, `${Number(bar.count.toPrecision(3))} ${unit[0]}`, x + (bar.m * on.perM) / 2, y - 12, {
      ...ink, align: "center",
    });
    pen.strokeStyle = colours.ink;
    pen.lineWidth = 2;
    pen.beginPath();
    pen.moveTo(width - 22, 34);
    pen.lineTo(width - 22, 12);
    pen.moveTo(width - 27, 20);
    pen.lineTo(width - 22, 12);
    pen.lineTo(width - 17, 20);
    pen.stroke();
    write(pen, "N", width - 22, 44, { ...ink, align: "center", weight: 700 });
    this.#windArrow(pen, colours);
  }

  /** An arrow flying with the wind, in the upper left corner. */
  #windArrow(pen, colours) {
    const from = this.scene.lookedAt() ?? this.scene.now;
    if (from.wind_from_deg === null) return;
    pen.save();
    pen.translate(28, 28);
    pen.rotate((from.wind_from_deg * Math.PI) / 180);
    pen.strokeStyle = colours.ink;
    pen.lineWidth = 2;
    pen.beginPath();
    pen.moveTo(0, -16);
    pen.lineTo(0, 16);
    pen.moveTo(-6, 8);
    pen.lineTo(0, 16);
    pen.lineTo(6, 8);
    pen.stroke();
    pen.restore();
    write(pen, from.wind_mps === null ? "wind" : wind(from.wind_mps), 50, 28, {
      colour: colours.ink, paper: colours.water, weight: 700,
    });
  }
}

function bowOf(at, boat) {
  if (at.heading === null) return at;
  const ahead = offset(at.heading, boat.antenna_aft_m);
  return { east: at.east + ahead.east, north: at.north + ahead.north };
}

function ring(pen, x, y, radius) {
  pen.beginPath();
  pen.arc(x, y, Math.max(0, radius), 0, 2 * Math.PI);
}

function trace(pen, on, path, closed) {
  pen.beginPath();
  path.forEach(([east, north], i) => {
    if (i) pen.lineTo(on.x(east), on.y(north));
    else pen.moveTo(on.x(east), on.y(north));
  });
  if (closed) pen.closePath();
}

function cross(pen, x, y, size) {
  pen.beginPath();
  pen.moveTo(x - size, y);
  pen.lineTo(x + size, y);
  pen.moveTo(x, y - size);
  pen.lineTo(x, y + size);
  pen.stroke();
}

/** Strokes across the path that was just traced: a danger is told by more than its colour. */
function hatch(pen, colour) {
  const { width, height } = pen.canvas;
  pen.save();
  pen.clip();
  pen.strokeStyle = colour;
  pen.globalAlpha = 0.45;
  pen.lineWidth = 1;
  pen.beginPath();
  for (let x = -height; x < width; x += 9) {
    pen.moveTo(x, height);
    pen.lineTo(x + height, 0);
  }
  pen.stroke();
  pen.restore();
}

/** An anchor: ring, shank, stock, arms. */
function drawAnchor(pen, x, y, colour, paper) {
  for (const [style, lineWidth] of [[paper, 6], [colour, 2.5]]) {
    pen.strokeStyle = style;
    pen.lineWidth = lineWidth;
    pen.lineCap = "round";
    pen.beginPath();
    pen.arc(x, y - 9, 2.5, 0, 2 * Math.PI);
    pen.moveTo(x, y - 6);
    pen.lineTo(x, y + 8);
    pen.moveTo(x - 5, y - 3);
    pen.lineTo(x + 5, y - 3);
    pen.moveTo(x - 8, y + 1);
    pen.quadraticCurveTo(x - 6, y + 8, x, y + 8);
    pen.quadraticCurveTo(x + 6, y + 8, x + 8, y + 1);
    pen.stroke();
    pen.lineCap = "butt";
  }
}

function middle({ rings, lines, points }) {
  const path = rings[0] ?? lines[0] ?? points;
  const sum = path.reduce(([x, y], [px, py]) => [x + px, y + py], [0, 0]);
  return [sum[0] / path.length, sum[1] / path.length];
}
