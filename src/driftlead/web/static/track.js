// The track in columns of plain numbers: eight hours are some hundred kilobytes, and drawing reads
// them without making garbage. What is not known is NaN.

export const COLUMNS = [
  "run_s", "utc_s", "east_m", "north_m", "distance_m", "heading_deg",
  "wind_from_deg", "wind_mps", "depth_m", "radius_m", "confidence",
];
const CAPACITY = 8192;
const DROPPED = 1024;

export class Track {
  constructor() {
    this.size = 0;
    this.columns = Object.fromEntries(COLUMNS.map((name) => [name, new Float64Array(CAPACITY)]));
    this.verdicts = [];
  }

  clear() {
    this.size = 0;
    this.verdicts.length = 0;
  }

  get firstS() {
    return this.size ? this.columns.run_s[0] : null;
  }

  get lastS() {
    return this.size ? this.columns.run_s[this.size - 1] : null;
  }

  /** Adds a point, if it is later than the last; `row` is an object of columns. */
  add(row, verdict = null) {
    if (this.size && row.run_s <= this.lastS) return false;
    if (this.size === CAPACITY) this.#dropOldest();
    for (const name of COLUMNS) this.columns[name][this.size] = row[name] ?? NaN;
    this.verdicts[this.size] = verdict;
    this.size += 1;
    return true;
  }

  /** Marks a break: the line is not drawn across it. */
  gap() {
    if (!this.size || Number.isNaN(this.columns.east_m[this.size - 1])) return;
    this.add({ run_s: this.lastS + 1e-3 });
  }

  /** Lays rows, as the API gives them, between what is older and what is newer. */
  lay(names, rows) {
    const time = names.indexOf("run_s");
    const from = rows[0][time];
    const to = rows.at(-1)[time];
    const newer = [];
    for (let index = 0; index < this.size; index += 1) {
      if (this.columns.run_s[index] > to) newer.push(this.at(index));
    }
    while (this.size && this.lastS >= from) this.size -= 1;
    const row = {};
    for (const values of rows) {
      names.forEach((name, column) => {
        row[name] = values[column];
      });
      this.add(row);
    }
    for (const point of newer) this.add(point, point.verdict);
  }

  /** The last point at or before `runS`, a break apart; -1 if there is none. */
  indexAt(runS) {
    const times = this.columns.run_s;
    let low = 0;
    let high = this.size;
    while (low < high) {
      const middle = (low + high) >> 1;
      if (times[middle] <= runS) low = middle + 1;
      else high = middle;
    }
    let index = low - 1;
    while (index >= 0 && Number.isNaN(this.columns.east_m[index])) index -= 1;
    return index;
  }

  at(index) {
    const row = { verdict: this.verdicts[index] ?? null };
    for (const name of COLUMNS) {
      const value = this.columns[name][index];
      row[name] = Number.isNaN(value) ? null : value;
    }
    return row;
  }

  #dropOldest() {
    for (const name of COLUMNS) this.columns[name].copyWithin(0, DROPPED, this.size);
    this.verdicts.splice(0, DROPPED);
    this.size -= DROPPED;
  }
}
