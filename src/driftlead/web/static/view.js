// Which piece of the sea the plot shows: everything that matters, north up, in steps that do not
// jitter with every swing.

const MARGIN = 1.12;
const LEAST_SPAN_M = 30;
const SHRINK_BELOW = 0.55;

export class View {
  constructor() {
    this.east = 0;
    this.north = 0;
    this.spanM = 0;
    this.zoom = 1;
  }

  forget() {
    this.spanM = 0;
    this.zoom = 1;
  }

  /** Fits to `box`, [west, south, east, north] in metres; stays as it is while that still fits. */
  fit(box) {
    const [west, south, east, north] = box;
    const wanted = Math.max(LEAST_SPAN_M, (east - west) * MARGIN, (north - south) * MARGIN);
    const half = this.spanM / 2;
    const fits =
      west >= this.east - half && east <= this.east + half &&
      south >= this.north - half && north <= this.north + half;
    if (fits && wanted > this.spanM * SHRINK_BELOW) return;
    this.spanM = wanted * MARGIN;
    this.east = (west + east) / 2;
    this.north = (south + north) / 2;
  }

  /** Says where metres come to lie on a canvas of this size. */
  on(width, height) {
    const perM = (Math.min(width, height) / this.spanM) * this.zoom;
    const [midX, midY] = [width / 2, height / 2];
    return {
      perM,
      x: (east) => midX + (east - this.east) * perM,
      y: (north) => midY - (north - this.north) * perM,
      east: (x) => this.east + (x - midX) / perM,
      north: (y) => this.north - (y - midY) / perM,
    };
  }
}

/** A round length for the scale bar: 1, 2 or 5 times a power of ten, in `unitM`. */
export function roundLength(atMostM, unitM = 1) {
  const most = atMostM / unitM;
  const ten = 10 ** Math.floor(Math.log10(most));
  const step = [5, 2, 1].find((each) => each * ten <= most) ?? 1;
  return { m: step * ten * unitM, count: step * ten };
}
