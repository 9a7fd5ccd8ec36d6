import type { Samples } from './samples.js';

/** Samples nearer to the one before than this say nothing new, pixels. */
const MIN_STEP = 0.35;

/**
 * Points on the boundary itself at `length` samples from `start` on. A sample is the mean over a pixel row or column,
 * which on a curve lies off the curve by its second derivative / 24.
 */
export function pushCurve(out: number[], samples: Samples, start: number, length: number): void {
  const { xs, ys, inRow, count } = samples;
  let lastX = out.length > 1 ? out[out.length - 2] : Infinity;
  let lastY = out.length > 1 ? out[out.length - 1] : Infinity;
  for (let k = 0; k < length; k += 1) {
    const i = (start + k) % count;
    const before = (i + count - 1) % count;
    const after = (i + 1) % count;
    let x = xs[i];
    let y = ys[i];
    if ((x - lastX) ** 2 + (y - lastY) ** 2 < MIN_STEP * MIN_STEP) continue;
    if (inRow[i] === 1) x -= bend(ys, xs, before, i, after) / 24;
    else y -= bend(xs, ys, before, i, after) / 24;
    out.push(x, y);
    lastX = x;
    lastY = y;
  }
}

/** Second derivative of v over u at the middle of three samples; 0 where they don't run on along u. */
function bend(u: Float64Array, v: Float64Array, a: number, i: number, b: number): number {
  const p = u[i] - u[a];
  const q = u[b] - u[i];
  if (Math.abs(p) < MIN_STEP || Math.abs(q) < MIN_STEP || p > 0 !== q > 0) return 0;
  const value = (2 * ((v[b] - v[i]) / q - (v[i] - v[a]) / p)) / (p + q);
  return Math.max(-2, Math.min(2, value));
}

/** A chord is given a middle point only when the curve stands out by more than this, pixels. */
const MIN_BULGE = 0.004;

/**
 * Gives the chords of a closed polygon a middle point where it follows a curve, so far out that the enclosed area is
 * the curve's: an arc of curvature k over a chord s holds k·s³/12 more than the chord.
 *
 * @param flat - x, y, x, y …
 * @param curved - one per point: whether the chord from it to the next point follows a curve
 */
export function fillChords(flat: readonly number[], curved: readonly boolean[]): number[] {
  const n = flat.length / 2;
  const curvature = new Float64Array(n);
  for (let i = 0; i < n; i += 1) {
    const a = (i + n - 1) % n;
    if (!curved[i] && !curved[a]) continue;
    const b = (i + 1) % n;
    const px = flat[2 * i] - flat[2 * a];
    const py = flat[2 * i + 1] - flat[2 * a + 1];
    const qx = flat[2 * b] - flat[2 * i];
    const qy = flat[2 * b + 1] - flat[2 * i + 1];
    const p = Math.sqrt(px * px + py * py);
    const q = Math.sqrt(qx * qx + qy * qy);
    const across = Math.sqrt((px + qx) ** 2 + (py + qy) ** 2);
    if (p > 0 && q > 0 && across > 0) curvature[i] = (2 * (px * qy - py * qx)) / (p * q * across);
  }
  const out: number[] = [];
  for (let i = 0; i < n; i += 1) {
    const b = (i + 1) % n;
    out.push(flat[2 * i], flat[2 * i + 1]);
    if (!curved[i]) continue;
    const dx = flat[2 * b] - flat[2 * i];
    const dy = flat[2 * b + 1] - flat[2 * i + 1];
    const s = Math.sqrt(dx * dx + dy * dy);
    const k = (curvature[i] + curvature[b]) / 2;
    const bulge = Math.max(-0.2 * s, Math.min(0.2 * s, (s * s * k) / 6));
    if (Math.abs(bulge) < MIN_BULGE) continue;
    // A positive turn (x right, y down) bends towards (-dy, dx); the curve bulges the other way.
    out.push(
      (flat[2 * i] + flat[2 * b]) / 2 + (bulge * dy) / s,
      (flat[2 * i + 1] + flat[2 * b + 1]) / 2 - (bulge * dx) / s,
    );
  }
  return out;
}
