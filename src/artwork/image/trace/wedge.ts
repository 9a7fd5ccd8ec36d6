import type { WallLine } from './line.js';

/**
 * Area of the part of a box that lies on the inner side of two lines (n·p <= c): of both where the corner is convex,
 * of at least one where it is concave.
 */
export function wedgeInBox(
  p: WallLine,
  q: WallLine,
  convex: boolean,
  box: readonly [number, number, number, number],
): number {
  const [x0, y0, x1, y1] = box;
  const whole: number[] = [x0, y0, x1, y0, x1, y1, x0, y1];
  if (convex) return area(clip(clip(whole, p, 1), q, 1));
  return (x1 - x0) * (y1 - y0) - area(clip(clip(whole, p, -1), q, -1));
}

function clip(poly: readonly number[], line: WallLine, sign: number): number[] {
  const out: number[] = [];
  const n = poly.length;
  for (let i = 0; i < n; i += 2) {
    const ax = poly[i];
    const ay = poly[i + 1];
    const bx = poly[(i + 2) % n];
    const by = poly[(i + 3) % n];
    const da = sign * (line.nx * ax + line.ny * ay - line.c);
    const db = sign * (line.nx * bx + line.ny * by - line.c);
    if (da <= 0) out.push(ax, ay);
    if (da < 0 !== db < 0 && da !== db) {
      const t = da / (da - db);
      if (t > 0 && t < 1) out.push(ax + t * (bx - ax), ay + t * (by - ay));
    }
  }
  return out;
}

function area(poly: readonly number[]): number {
  let twice = 0;
  for (let i = 0; i < poly.length; i += 2) {
    const j = (i + 2) % poly.length;
    twice += poly[i] * poly[j + 1] - poly[j] * poly[i + 1];
  }
  return Math.abs(twice) / 2;
}
