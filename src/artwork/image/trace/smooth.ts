import type { Samples } from './samples.js';

/** Half the window, in samples, at most and at least. */
const WIDEST = 24;
const NARROWEST = 3;
/** Spread of a staircase about the curve it stands for, pixels: 0.29, with room. */
const MOST_RMS_PX = 0.34;

/**
 * A smooth curve through the samples of a staircase: at each sample a parabola is fitted to as many neighbours as it
 * explains.
 *
 * @returns x, y, x, y …
 */
export function smoothCurve(samples: Samples): number[] {
  const out: number[] = [];
  const most = Math.min(WIDEST, Math.max(NARROWEST, Math.floor(samples.count / 6)));
  let half = most;
  for (let i = 0; i < samples.count; i += 1) {
    // Windows change slowly along a curve: start from the last one.
    half = Math.min(most, half + 2);
    let point = parabolaAt(samples, i, half);
    while (point.rms > MOST_RMS_PX && half > NARROWEST) {
      half = Math.max(NARROWEST, Math.floor(half * 0.8));
      point = parabolaAt(samples, i, half);
    }
    out.push(point.x, point.y);
  }
  return out;
}

function parabolaAt({ xs, ys, count }: Samples, i: number, half: number): { x: number; y: number; rms: number } {
  const index = (k: number): number => (i + k + count) % count;
  const a = index(-half);
  const b = index(half);
  const chord = Math.hypot(xs[b] - xs[a], ys[b] - ys[a]);
  const n = 2 * half + 1;
  if (!(chord > 0)) return { x: xs[i], y: ys[i], rms: 0 };
  const tx = (xs[b] - xs[a]) / chord;
  const ty = (ys[b] - ys[a]) / chord;
  // v = c0 + c1 u + c2 u² about the window's middle, by orthogonal polynomials.
  let mu = 0;
  for (let k = -half; k <= half; k += 1) mu += along(index(k)) / n;
  let [s2, s3, s4, v0, v1, v2] = [0, 0, 0, 0, 0, 0];
  for (let k = -half; k <= half; k += 1) {
    const j = index(k);
    const u = along(j) - mu;
    const v = across(j);
    s2 += u * u;
    s3 += u * u * u;
    s4 += u ** 4;
    v0 += v;
    v1 += u * v;
    v2 += u * u * v;
  }
  if (!(s2 > 0)) return { x: xs[i], y: ys[i], rms: 0 };
  const slope = v1 / s2;
  const g = s3 / s2;
  const h = s2 / n;
  const norm = s4 - s3 * g - s2 * h;
  const c2 = norm > 1e-9 ? (v2 - v1 * g - v0 * h) / norm : 0;
  const value = (u: number): number => v0 / n + slope * u + c2 * (u * u - g * u - h);
  let sum = 0;
  for (let k = -half; k <= half; k += 1) {
    const j = index(k);
    sum += (across(j) - value(along(j) - mu)) ** 2;
  }
  const u = along(i);
  const v = value(u - mu);
  return { x: xs[i] - (across(i) - v) * -ty, y: ys[i] - (across(i) - v) * tx, rms: Math.sqrt(sum / (n - 3)) };

  function along(j: number): number {
    return (xs[j] - xs[i]) * tx + (ys[j] - ys[i]) * ty;
  }
  function across(j: number): number {
    return (xs[j] - xs[i]) * -ty + (ys[j] - ys[i]) * tx;
  }
}
