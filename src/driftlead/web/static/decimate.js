// Eight hours on a few hundred pixels: for each pixel the least and the greatest value, so that no
// gust and no sheer is lost however small it is drawn.

/**
 * `times` and `values` are columns of `size` numbers; `count` pixels cover `from` to `to`.
 * Gives {low, high}, NaN where a pixel has no value, and `unknown`, 1 where it has points that know
 * none: that is a gap in what is known, and no line leads across it.
 */
export function decimate(times, values, size, from, to, count) {
  const low = new Float64Array(count).fill(NaN);
  const high = new Float64Array(count).fill(NaN);
  const unknown = new Uint8Array(count);
  const perS = count / (to - from || 1);
  for (let i = 0; i < size; i += 1) {
    const value = values[i];
    const pixel = Math.min(count - 1, Math.floor((times[i] - from) * perS));
    if (pixel < 0) continue;
    if (Number.isNaN(value)) {
      unknown[pixel] = 1;
      continue;
    }
    if (!(low[pixel] <= value)) low[pixel] = value;
    if (!(high[pixel] >= value)) high[pixel] = value;
  }
  return { low, high, unknown };
}

/** The least and greatest of what is known; null if nothing is. */
export function range({ low, high }) {
  let [least, most] = [Infinity, -Infinity];
  for (let i = 0; i < low.length; i += 1) {
    if (low[i] < least) least = low[i];
    if (high[i] > most) most = high[i];
  }
  return least <= most ? [least, most] : null;
}
