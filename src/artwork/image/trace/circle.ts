import type { Samples } from './samples.js';

export interface Circle {
  readonly x: number;
  readonly y: number;
  readonly radius: number;
}

/** The circle x² + y² = 2 a x + 2 b y + c nearest to all samples by least squares; undefined for samples on a line. */
export function fitCircle({ xs, ys, count }: Samples): Circle | undefined {
  let [ox, oy] = [0, 0];
  for (let i = 0; i < count; i += 1) {
    ox += xs[i] / count;
    oy += ys[i] / count;
  }
  let [sxx, sxy, syy, sz, sxz, syz] = [0, 0, 0, 0, 0, 0];
  for (let i = 0; i < count; i += 1) {
    const [x, y] = [xs[i] - ox, ys[i] - oy];
    const z = x * x + y * y;
    sxx += x * x;
    sxy += x * y;
    syy += y * y;
    sz += z;
    sxz += x * z;
    syz += y * z;
  }
  const det = sxx * syy - sxy * sxy;
  if (!(det > 1e-9 * (sxx + syy) ** 2)) return undefined;
  const a = (sxz * syy - syz * sxy) / det / 2;
  const b = (syz * sxx - sxz * sxy) / det / 2;
  return { x: a + ox, y: b + oy, radius: Math.sqrt(sz / count + a * a + b * b) };
}

/** How far sample i lies outside a circle, pixels, in the direction in which it was measured. */
export function offCircle(samples: Samples, circle: Circle, i: number): number {
  const dx = samples.xs[i] - circle.x;
  const dy = samples.ys[i] - circle.y;
  const away = Math.sqrt(dx * dx + dy * dy);
  const share = Math.abs(samples.inRow[i] === 1 ? dx : dy) / (away || 1);
  return (away - circle.radius) / Math.max(0.5, share);
}

/** Largest distance between an arc and its chords, pixels. */
const SAGITTA_PX = 0.01;

/**
 * Appends the points of an arc, both ends included, turning by `turnRad` (signed). Inner points lie so far out that the
 * chords enclose the arc's own area.
 */
export function pushArc(out: number[], { x, y, radius }: Circle, fromRad: number, turnRad: number): void {
  const most = 2 * Math.acos(Math.max(0.5, 1 - SAGITTA_PX / Math.max(radius, 0.02)));
  const steps = Math.max(2, Math.ceil(Math.abs(turnRad) / most));
  const step = turnRad / steps;
  // The ends stay on the arc; the others move out by what the chords lack, s³/12 of area a chord.
  const further = radius * (1 + ((step * step) / 12) * (steps / (steps - 1)));
  for (let k = 0; k <= steps; k += 1) {
    const at = fromRad + k * step;
    const here = k === 0 || k === steps ? radius : further;
    out.push(x + here * Math.cos(at), y + here * Math.sin(at));
  }
}
