import { pushArc } from './arc.js';
import { offLine, type WallLine } from './line.js';
import { type Circle, offCircle } from './minimax.js';
import { signedTurn } from './outline-builder.js';
import type { Samples } from './samples.js';

const COARSE = 24;
const FINE = 20;

/**
 * Joins two sides by the arc that touches both and whose largest deviation from the samples between them is least: a
 * rounded corner, or a round end where the sides are parallel.
 *
 * @param tolerance - most that a sample may lie off, pixels
 * @returns false, with nothing added, when no arc will do
 */
export function pushTangentArc(
  out: number[],
  samples: Samples,
  p: WallLine,
  q: WallLine,
  start: number,
  length: number,
  tolerance: number,
): boolean {
  const [mx, my] = [p.nx - q.nx, p.ny - q.ny];
  const size2 = mx * mx + my * my;
  const turn = arcTurn(samples, p, q, start, length);
  if (size2 < 0.05 || length < 3) return false;
  // Points equally far from both sides: m·z = c, along the direction (dx, dy).
  const c = (p.c - q.c) / size2;
  const size = Math.sqrt(size2);
  const [dx, dy] = [-my / size, mx / size];
  let [cx, cy] = [mx * c, my * c];
  const { xs, ys, count } = samples;
  const middle = (start + (length >> 1)) % count;
  const along = (xs[middle] - cx) * dx + (ys[middle] - cy) * dy;
  [cx, cy] = [cx + along * dx, cy + along * dy];
  const at = (s: number, most = Infinity): { circle: Circle; worst: number } => {
    const [x, y] = [cx + s * dx, cy + s * dy];
    const circle = { x, y, radius: Math.abs(p.nx * x + p.ny * y - p.c) };
    let worst = 0;
    for (let k = 0; k < length && worst < most; k += 1) {
      const i = (start + k) % count;
      let near = Math.abs(offCircle(samples, circle, i));
      // Beyond the points of touch the sides themselves run on.
      if (near > worst && beside(samples, circle, p, i)) near = Math.min(near, Math.abs(offLine(samples, p, i)));
      if (near > worst && beside(samples, circle, q, i)) near = Math.min(near, Math.abs(offLine(samples, q, i)));
      worst = Math.max(worst, near);
    }
    return { circle, worst };
  };
  const reach = length + 2;
  let best = 0;
  let least = at(0).worst;
  let step = reach / COARSE;
  for (let k = -COARSE; k <= COARSE; k += 1) {
    const { worst } = at(k * step, least);
    if (worst < least) [best, least] = [k * step, worst];
  }
  for (let k = 0; k < FINE; k += 1) {
    step /= 1.6;
    for (const s of [best - step, best + step]) {
      const { worst } = at(s, least);
      if (worst < least) [best, least] = [s, worst];
    }
  }
  const { circle, worst } = at(best);
  if (worst > tolerance || circle.radius < 0.5) return false;
  const side = turn > 0 ? -1 : 1;
  pushArc(out, circle.x, circle.y, circle.radius, Math.atan2(side * p.ny, side * p.nx), turn);
  return true;
}

/** Turn from one outward normal to the next on the side where the samples are; a half turn may come out either way. */
function arcTurn(samples: Samples, p: WallLine, q: WallLine, start: number, length: number): number {
  const turn = signedTurn(p, q);
  if (Math.abs(turn) < 2.6) return turn;
  // Convex if the middle of the samples lies within the sides, ahead of their ends.
  const i = (start + (length >> 1)) % samples.count;
  const [x, y] = [samples.xs[i], samples.ys[i]];
  const inside = p.nx * x + p.ny * y < p.c && q.nx * x + q.ny * y < q.c;
  if (inside === turn < 0) return turn;
  return turn < 0 ? turn + 2 * Math.PI : turn - 2 * Math.PI;
}

/** Whether sample i lies past the point where a side touches the circle, on the side's own end. */
function beside(samples: Samples, circle: Circle, line: WallLine, i: number): boolean {
  const away = line.nx * samples.xs[i] + line.ny * samples.ys[i] - line.c;
  const tx = samples.xs[i] - circle.x;
  const ty = samples.ys[i] - circle.y;
  const along = Math.abs(tx * -line.ny + ty * line.nx);
  return Math.abs(away) < 1 && along < circle.radius;
}
