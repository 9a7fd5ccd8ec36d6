import type { WallLine } from './line.js';
import type { Samples } from './samples.js';

/** Steps of reweighting; the largest deviation is then within a few hundredths of a pixel of the least possible. */
const STEPS = 24;

let weightsRoom = new Float64Array(1024);
let offsRoom = new Float64Array(1024);

/** Weights of one for so many samples; used again by the next fit. */
function roomFor(length: number): Float64Array {
  if (length > weightsRoom.length) {
    weightsRoom = new Float64Array(2 * length);
    offsRoom = new Float64Array(2 * length);
  }
  return weightsRoom.fill(1, 0, length);
}

export interface Circle {
  readonly x: number;
  readonly y: number;
  readonly radius: number;
}

/**
 * The line whose largest deviation from the samples is least. A staircase is within half a step of the edge that made
 * it, so the middle of what is possible is a better estimate than the middle of the steps.
 *
 * @param steep - measure deviations along x, else along y
 * @remarks Source: Lawson's reweighting (C. L. Lawson, thesis, 1961), as described in the textbooks on minimax fitting.
 */
export function minimaxLine(samples: Samples, start: number, length: number, steep: boolean): WallLine {
  const { count } = samples;
  const [us, vs] = steep ? [samples.ys, samples.xs] : [samples.xs, samples.ys];
  const u0 = us[start % count];
  const v0 = vs[start % count];
  const weights = roomFor(length);
  let slope = 0;
  let base = 0;
  for (let step = 0; step <= STEPS; step += 1) {
    let [w, wu, wv, wuu, wuv] = [0, 0, 0, 0, 0];
    for (let k = 0; k < length; k += 1) {
      const i = (start + k) % count;
      const [u, v, m] = [us[i] - u0, vs[i] - v0, weights[k]];
      w += m;
      wu += m * u;
      wv += m * v;
      wuu += m * u * u;
      wuv += m * u * v;
    }
    const det = w * wuu - wu * wu;
    slope = det > 1e-12 * w * w ? (w * wuv - wu * wv) / det : 0;
    base = (wv - slope * wu) / w;
    let most = 0;
    let least = Infinity;
    for (let k = 0; k < length; k += 1) {
      const i = (start + k) % count;
      const off = Math.abs(vs[i] - v0 - base - slope * (us[i] - u0));
      if (off > most) most = off;
      if (off < least) least = off;
    }
    if (most - least < 0.01) break;
    for (let k = 0; k < length; k += 1) {
      const i = (start + k) % count;
      weights[k] *= Math.abs(vs[i] - v0 - base - slope * (us[i] - u0)) / most + 1e-3;
    }
  }
  // v = v0 + base + slope (u - u0)
  const size = Math.hypot(1, slope);
  const c = (v0 + base - slope * u0) / size;
  return steep ? { nx: 1 / size, ny: -slope / size, c } : { nx: -slope / size, ny: 1 / size, c };
}

/**
 * The circle whose largest deviation from the samples, in the direction each was measured, is least.
 *
 * @param hopeless - deviation of the least squares circle from which on the search is not worth it
 * @returns undefined for samples on a line, and where there is no hope
 */
export function minimaxCircle(samples: Samples, start: number, length: number, hopeless: number): Circle | undefined {
  const { xs, ys, count } = samples;
  let [ox, oy] = [0, 0];
  for (let k = 0; k < length; k += 1) {
    const i = (start + k) % count;
    ox += xs[i] / length;
    oy += ys[i] / length;
  }
  const weights = roomFor(length);
  const offs = offsRoom;
  let circle: Circle | undefined;
  for (let step = 0; step <= STEPS; step += 1) {
    circle = weightedCircle(samples, start, length, weights, ox, oy);
    if (!circle) return undefined;
    let most = 0;
    for (let k = 0; k < length; k += 1) {
      offs[k] = Math.abs(offCircle(samples, circle, (start + k) % count));
      if (offs[k] > most) most = offs[k];
    }
    // Least squares is never twice as bad as the best there is.
    if (step === 0 && most > hopeless) return undefined;
    if (most < 1e-6) break;
    for (let k = 0; k < length; k += 1) weights[k] *= offs[k] / most + 1e-3;
  }
  return circle;
}

/** How far sample i lies outside a circle, pixels, in the direction in which it was measured. */
export function offCircle(samples: Samples, circle: Circle, i: number): number {
  const dx = samples.xs[i] - circle.x;
  const dy = samples.ys[i] - circle.y;
  const away = Math.sqrt(dx * dx + dy * dy);
  const share = Math.abs(samples.inRow[i] === 1 ? dx : dy) / (away || 1);
  return (away - circle.radius) / Math.max(0.5, share);
}

/** Least squares for x² + y² = 2 a x + 2 b y + c, about (ox, oy). */
function weightedCircle(
  samples: Samples,
  start: number,
  length: number,
  weights: Float64Array,
  ox: number,
  oy: number,
): Circle | undefined {
  const { xs, ys, count } = samples;
  let [w, wx, wy, wxx, wxy, wyy, wz, wxz, wyz] = [0, 0, 0, 0, 0, 0, 0, 0, 0];
  for (let k = 0; k < length; k += 1) {
    const i = (start + k) % count;
    const [x, y, m] = [xs[i] - ox, ys[i] - oy, weights[k]];
    const z = x * x + y * y;
    w += m;
    wx += m * x;
    wy += m * y;
    wxx += m * x * x;
    wxy += m * x * y;
    wyy += m * y * y;
    wz += m * z;
    wxz += m * x * z;
    wyz += m * y * z;
  }
  const [mx, my, mz] = [wx / w, wy / w, wz / w];
  const [sxx, sxy, syy] = [wxx / w - mx * mx, wxy / w - mx * my, wyy / w - my * my];
  const [sxz, syz] = [wxz / w - mx * mz, wyz / w - my * mz];
  const det = sxx * syy - sxy * sxy;
  if (!(det > 1e-9 * (sxx + syy) ** 2)) return undefined;
  const a = (sxz * syy - syz * sxy) / det / 2;
  const b = (syz * sxx - sxz * sxy) / det / 2;
  const square = mz - 2 * a * mx - 2 * b * my + a * a + b * b;
  return square > 0 ? { x: a + ox, y: b + oy, radius: Math.sqrt(square) } : undefined;
}
