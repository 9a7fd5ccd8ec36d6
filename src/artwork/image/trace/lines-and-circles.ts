import type { Point } from '../../../geometry/types.js';
import type { Samples } from './samples.js';

/** A straight line nx·x + ny·y = c, with (nx, ny) of length one. */
export interface WallLine {
  readonly nx: number;
  readonly ny: number;
  readonly c: number;
}

/**
 * The line nearest to `length` samples from `start` on (cyclic): least squares in the direction in which most of them
 * were measured, because only that coordinate carries an error.
 */
export function fitLine(samples: Samples, start: number, length: number): WallLine {
  const { xs, ys, inRow, count } = samples;
  const first = start % count;
  const ox = xs[first];
  const oy = ys[first];
  let sx = 0;
  let sy = 0;
  let rows = 0;
  for (let k = 0, i = first; k < length; k += 1) {
    sx += xs[i] - ox;
    sy += ys[i] - oy;
    rows += inRow[i];
    i = i + 1 === count ? 0 : i + 1;
  }
  const mx = sx / length;
  const my = sy / length;
  let sxx = 0;
  let sxy = 0;
  let syy = 0;
  for (let k = 0, i = first; k < length; k += 1) {
    const dx = xs[i] - ox - mx;
    const dy = ys[i] - oy - my;
    sxx += dx * dx;
    sxy += dx * dy;
    syy += dy * dy;
    i = i + 1 === count ? 0 : i + 1;
  }
  const steep = rows * 2 === length ? syy > sxx : rows * 2 > length;
  let nx: number;
  let ny: number;
  if (steep) {
    nx = 1;
    ny = syy > 0 ? -sxy / syy : 0;
  } else {
    ny = 1;
    nx = sxx > 0 ? -sxy / sxx : 0;
  }
  const size = Math.sqrt(nx * nx + ny * ny);
  nx /= size;
  ny /= size;
  return { nx, ny, c: nx * (mx + ox) + ny * (my + oy) };
}

/** Least share of a line's normal along the measured axis for a sample to say something about the line. */
const MIN_SHARE = 0.4;

/**
 * How far sample i lies off the line, pixels, in the direction in which the sample was measured; far off when it was
 * measured along the line.
 */
export function offLine(samples: Samples, line: WallLine, i: number): number {
  const away = line.nx * samples.xs[i] + line.ny * samples.ys[i] - line.c;
  const share = Math.abs(samples.inRow[i] === 1 ? line.nx : line.ny);
  return share > MIN_SHARE ? away / share : 1e3 + Math.abs(away);
}

/** Where two lines cross, or undefined when they are nearly parallel. */
export function crossing(p: WallLine, q: WallLine): Point | undefined {
  const det = p.nx * q.ny - p.ny * q.nx;
  if (Math.abs(det) < 1e-6) return undefined;
  return [(p.c * q.ny - q.c * p.ny) / det, (p.nx * q.c - q.nx * p.c) / det];
}

/** The foot of a point on a line. */
export function foot(line: WallLine, x: number, y: number): Point {
  const away = line.nx * x + line.ny * y - line.c;
  return [x - away * line.nx, y - away * line.ny];
}

/** Signed turn from one outward normal to the next, radians, y down: negative turns left, round a convex corner. */
export function signedTurn(p: WallLine, q: WallLine): number {
  return Math.atan2(p.nx * q.ny - p.ny * q.nx, p.nx * q.nx + p.ny * q.ny);
}

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
export function pushArc(out: Point[], { x, y, radius }: Circle, fromRad: number, turnRad: number): void {
  const most = 2 * Math.acos(Math.max(0.5, 1 - SAGITTA_PX / Math.max(radius, 0.02)));
  const steps = Math.max(2, Math.ceil(Math.abs(turnRad) / most));
  const step = turnRad / steps;
  // The ends stay on the arc; the others move out by what the chords lack, s³/12 of area a chord.
  const further = radius * (1 + ((step * step) / 12) * (steps / (steps - 1)));
  for (let k = 0; k <= steps; k += 1) {
    const at = fromRad + k * step;
    const here = k === 0 || k === steps ? radius : further;
    out.push([x + here * Math.cos(at), y + here * Math.sin(at)]);
  }
}
