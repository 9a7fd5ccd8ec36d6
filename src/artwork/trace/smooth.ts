import { fillChords } from './curve.js';
import type { Samples } from './samples.js';

/** Samples on each side over which a staircase is smoothed. */
const MOST_REACH = 12;

/** A whole ring as a smooth curve. */
export function smoothRing(samples: Samples): number[] {
  const out: number[] = [];
  pushSmooth(out, samples, 0, samples.count);
  return fillChords(out, new Array<boolean>(out.length / 2).fill(true));
}

/**
 * Appends smoothed samples: each is the value at its place of the parabola that fits its neighbours best, in the frame
 * of their own chord. The reach grows with the radius of the curve, so that the parabola stays a good likeness.
 */
export function pushSmooth(out: number[], samples: Samples, start: number, length: number): void {
  for (let k = 0; k < length; k += 1) {
    const i = (start + k) % samples.count;
    const reach = reachAt(samples, i);
    out.push(...parabolaAt(samples, i, reach).point);
  }
}

function reachAt(samples: Samples, i: number): number {
  const most = Math.min(MOST_REACH, Math.max(2, (samples.count >> 2) - 1));
  for (let reach = Math.min(3, most); reach < most; reach += 1)
    if (parabolaAt(samples, i, reach + 1).worst > 0.62) return reach;
  return most;
}

function parabolaAt(
  { xs, ys, count }: Samples,
  i: number,
  reach: number,
): { readonly point: [number, number]; readonly worst: number } {
  const a = (i + count - reach) % count;
  const b = (i + reach) % count;
  let [tx, ty] = [xs[b] - xs[a], ys[b] - ys[a]];
  const size = Math.hypot(tx, ty) || 1;
  tx /= size;
  ty /= size;
  const n = 2 * reach + 1;
  const us = new Float64Array(n);
  const vs = new Float64Array(n);
  let [s1, s2, s3, s4, t0, t1, t2] = [0, 0, 0, 0, 0, 0, 0];
  for (let k = 0; k < n; k += 1) {
    const j = (a + k) % count;
    const [dx, dy] = [xs[j] - xs[i], ys[j] - ys[i]];
    const u = dx * tx + dy * ty;
    const v = dy * tx - dx * ty;
    us[k] = u;
    vs[k] = v;
    s1 += u;
    s2 += u * u;
    s3 += u * u * u;
    s4 += u * u * u * u;
    t0 += v;
    t1 += u * v;
    t2 += u * u * v;
  }
  const [c0, c1, c2] = solve3(n, s1, s2, s3, s4, t0, t1, t2);
  let worst = 0;
  for (let k = 0; k < n; k += 1) worst = Math.max(worst, Math.abs(vs[k] - c0 - c1 * us[k] - c2 * us[k] * us[k]));
  return { point: [xs[i] - c0 * ty, ys[i] + c0 * tx], worst };
}

/** Least squares parabola from its sums. */
function solve3(
  s0: number,
  s1: number,
  s2: number,
  s3: number,
  s4: number,
  t0: number,
  t1: number,
  t2: number,
): [number, number, number] {
  const det = s0 * (s2 * s4 - s3 * s3) - s1 * (s1 * s4 - s3 * s2) + s2 * (s1 * s3 - s2 * s2);
  if (Math.abs(det) < 1e-9) return [t0 / s0, 0, 0];
  return [
    (t0 * (s2 * s4 - s3 * s3) - s1 * (t1 * s4 - s3 * t2) + s2 * (t1 * s3 - s2 * t2)) / det,
    (s0 * (t1 * s4 - t2 * s3) - t0 * (s1 * s4 - s3 * s2) + s2 * (s1 * t2 - t1 * s2)) / det,
    (s0 * (s2 * t2 - t1 * s3) - s1 * (s1 * t2 - t1 * s2) + t0 * (s1 * s3 - s2 * s2)) / det,
  ];
}
