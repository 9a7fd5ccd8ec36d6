/** The middle of some numbers; NaN of none. Sorts a copy. */
export function medianOf(values: ArrayLike<number>): number {
  const sorted = Float64Array.from(values).sort();
  const n = sorted.length;
  if (n === 0) return Number.NaN;
  return n % 2 === 1 ? sorted[(n - 1) / 2] : (sorted[n / 2 - 1] + sorted[n / 2]) / 2;
}

/** Standard deviation of normal noise that has the same median of absolute deviations. */
export function spreadOf(values: ArrayLike<number>, middle = medianOf(values)): number {
  return 1.4826 * medianOf(Array.from(values, (value) => Math.abs(value - middle)));
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
  let weights: number[] = y.map(() => 1);
  let spread = 0;
  for (let round = 0; round < 12; round += 1) {
    const residuals = y.map((value, i) => value - at - slope * x[i]);
    spread = Math.max(1e-9, spreadOf(residuals, 0));
    weights = residuals.map((r) => {
      const far = Math.abs(r) / spread;
      return far > 4 ? 0 : far > HUBER ? HUBER / far : 1;
    });
    let [s, sx, sy, sxx, sxy] = [0, 0, 0, 0, 0];
    weights.forEach((w, i) => {
      s += w;
      sx += w * x[i];
      sy += w * y[i];
      sxx += w * x[i] * x[i];
      sxy += w * x[i] * y[i];
    });
    const det = s * sxx - sx * sx;
    const before = at;
    slope = tilted && det > 1e-12 * s * s ? (s * sxy - sx * sy) / det : 0;
    at = (sy - slope * sx) / s;
    if (Math.abs(at - before) < 1e-8) break;
  }
  return { at, slope, weights, spread };
}
