let room = new Float64Array(1024);
let distances = new Float64Array(1024);

/** The middle of some numbers; NaN of none. Hoare's selection on a copy: a scan asks for a hundred thousand middles. */
export function medianOf(values: ArrayLike<number>): number {
  const n = values.length;
  if (n === 0) return Number.NaN;
  if (room.length < n) room = new Float64Array(2 * n);
  for (let i = 0; i < n; i += 1) {
    // NaN has no order, and one of them has no middle.
    if (Number.isNaN(values[i])) return Number.NaN;
    room[i] = values[i];
  }
  const high = select(n >> 1, n);
  if (n % 2 === 1) return high;
  let low = Number.NEGATIVE_INFINITY;
  for (let i = 0; i < n >> 1; i += 1) if (room[i] > low) low = room[i];
  return (low + high) / 2;
}

/** The k-th smallest of the first n numbers in the room, those below it to its left (Hoare, CACM 4 (1961) 321). */
function select(k: number, n: number): number {
  let [left, right] = [0, n - 1];
  while (left < right) {
    const pivot = room[(left + right) >> 1];
    let [i, j] = [left, right];
    while (i <= j) {
      while (room[i] < pivot) i += 1;
      while (room[j] > pivot) j -= 1;
      if (i > j) break;
      const swap = room[i];
      room[i] = room[j];
      room[j] = swap;
      i += 1;
      j -= 1;
    }
    if (k <= j) right = j;
    else if (k >= i) left = i;
    else return room[k];
  }
  return room[k];
}

/** Standard deviation of normal noise that has the same median of absolute deviations. */
export function spreadOf(values: ArrayLike<number>, middle = medianOf(values)): number {
  if (distances.length < values.length) distances = new Float64Array(2 * values.length);
  for (let i = 0; i < values.length; i += 1) distances[i] = Math.abs(values[i] - middle);
  return 1.4826 * medianOf(distances.subarray(0, values.length));
}

/** Huber's factor: 95 % as sharp as least squares on normal noise. */
const HUBER = 1.345;

/** A robust straight line y = at + slope x (Huber), x taken about `about`; the slope only when `tilted`. */
export function robustLine(
  x: readonly number[],
  y: readonly number[],
  tilted: boolean,
): { readonly at: number; readonly slope: number; readonly weights: readonly number[]; readonly spread: number } {
  let at = medianOf(y);
  let slope = 0;
  const weights: number[] = y.map(() => 1);
  const residuals = new Float64Array(y.length);
  let spread = 0;
  for (let round = 0; round < 12; round += 1) {
    for (let i = 0; i < y.length; i += 1) residuals[i] = y[i] - at - slope * x[i];
    spread = Math.max(1e-9, spreadOf(residuals, 0));
    let [s, sx, sy, sxx, sxy] = [0, 0, 0, 0, 0];
    for (let i = 0; i < y.length; i += 1) {
      const far = Math.abs(residuals[i]) / spread;
      const w = far > 4 ? 0 : far > HUBER ? HUBER / far : 1;
      weights[i] = w;
      s += w;
      sx += w * x[i];
      sy += w * y[i];
      sxx += w * x[i] * x[i];
      sxy += w * x[i] * y[i];
    }
    const det = s * sxx - sx * sx;
    const before = at;
    slope = tilted && det > 1e-12 * s * s ? (s * sxy - sx * sy) / det : 0;
    at = (sy - slope * sx) / s;
    if (Math.abs(at - before) < 1e-8) break;
  }
  return { at, slope, weights, spread };
}
