// A canvas as sharp as the screen, drawn only when it is seen and something has changed.

import { onceAFrame } from "./dom.js";

export class Canvas {
  constructor(element, draw) {
    this.element = element;
    this.pen = element.getContext("2d");
    this.width = 0;
    this.height = 0;
    this.ask = onceAFrame(() => {
      if (this.#fit()) draw(this.pen, this.width, this.height);
    });
    new ResizeObserver(() => this.ask()).observe(element);
  }

  /** Matches the canvas to its place; false if it has none, being hidden. */
  #fit() {
    const { clientWidth, clientHeight } = this.element;
    if (!clientWidth || !clientHeight) return false;
    const scale = Math.min(window.devicePixelRatio || 1, 3);
    const [width, height] = [Math.round(clientWidth * scale), Math.round(clientHeight * scale)];
    if (this.element.width !== width || this.element.height !== height) {
      this.element.width = width;
      this.element.height = height;
    }
    this.pen.setTransform(scale, 0, 0, scale, 0, 0);
    this.width = clientWidth;
    this.height = clientHeight;
    return true;
  }
}

export const FONT = "system-ui, sans-serif";

/** Text with a rim of paper, so that it can be read over lines. */
export function write(pen, text, x, y, { colour, paper, size = 13, weight = 500, align = "left" }) {
  pen.font = `${weight} ${size}px ${FONT}`;
  pen.textAlign = align;
  if (align === "left") {
    const room = pen.canvas.clientWidth - pen.measureText(text).width - 4;
    // A name is drawn in from the edge, but not where what it names is out of sight.
    if (x > room && x < pen.canvas.clientWidth) x = room;
  }
  pen.textBaseline = "middle";
  pen.lineJoin = "round";
  pen.lineWidth = 4;
  pen.strokeStyle = paper;
  pen.strokeText(text, x, y);
  pen.fillStyle = colour;
  pen.fillText(text, x, y);
}
