import { Matrix, solve } from 'ml-matrix';
import { ringBounds } from '../../../geometry/bounds.js';
import type { Point, Ring } from '../../../geometry/types.js';
import { type PixelRing, stairs } from './follow.js';
import { pushArc } from './lines-and-circles.js';
import type { Samples } from './samples.js';

/** An upright rectangle with four equal round corners; an obround where the radius is half its shorter side. */
interface RoundedRectangle {
  readonly x0: number;
  readonly y0: number;
  readonly x1: number;
  readonly y1: number;
  readonly radius: number;
}

/** Steps towards the best fit; the last ones move nothing by a hundredth of a pixel. */
const STEPS = 6;
/** A side lies within half a step of the pixels, wherever it was. */
const MOST_MOVE_PX = 0.5;

/**
 * The upright rectangle with round corners that lies best between the steps of its corners. What runs along the pixels
 * says nothing of where within half a step a side was: it stays on the pixels' edges unless its corners say otherwise,
 * so no side is drawn too far out, and pads are as long as they were on average.
 *
 * @param tolerance - most that a sample may lie off, pixels
 * @returns undefined for any other shape
 */
export function roundedRectangle(ring: PixelRing, samples: Samples, tolerance: number): Ring | undefined {
  const shape = fitted(ring, samples);
  if (shape.radius < 0.5) return undefined;
  for (let i = 0; i < samples.count; i += 1) if (Math.abs(offAt(shape, samples, i).off) > tolerance) return undefined;
  return outlineOf(shape);
}

/** Least squares over the samples of the corners, and of each side against its place on the pixels as one sample more. */
function fitted(ring: PixelRing, samples: Samples): RoundedRectangle {
  const { minX: x0, minY: y0, maxX: x1, maxY: y1 } = ringBounds(stairs(ring));
  const half = Math.min(x1 - x0, y1 - y0) / 2;
  let radius = Math.min(half, Math.sqrt(Math.max(0, (x1 - x0) * (y1 - y0) - ring.area) / (4 - Math.PI)));
  // Outwards: left, upper, right, lower side.
  let moves = [0, 0, 0, 0];
  const shapeNow = (): RoundedRectangle => {
    const [left, upper, right, lower] = moves;
    return { x0: x0 - left, y0: y0 - upper, x1: x1 + right, y1: y1 + lower, radius };
  };
  const slopes = [0, 0, 0, 0, 0];
  for (let step = 0; step < STEPS; step += 1) {
    const shape = shapeNow();
    const sums = Array.from({ length: 5 }, (_, row) => [0, 0, 0, 0, 0].map((_, k) => (k === row && row < 4 ? 1 : 0)));
    const right = [...moves.map((move) => -move), 0];
    for (let i = 0; i < samples.count; i += 1) {
      const { off, nx, ny, share } = offAt(shape, samples, i);
      if (nx === 0 || ny === 0) continue;
      slopes[0] = -Math.min(nx, 0) / share;
      slopes[1] = -Math.min(ny, 0) / share;
      slopes[2] = Math.max(nx, 0) / share;
      slopes[3] = Math.max(ny, 0) / share;
      slopes[4] = (1 - Math.abs(nx) - Math.abs(ny)) / share;
      for (let p = 0; p < 5; p += 1) {
        right[p] += slopes[p] * off;
        for (let q = 0; q < 5; q += 1) sums[p][q] += slopes[p] * slopes[q];
      }
    }
    sums[4][4] += 1e-3;
    const change = solve(new Matrix(sums), Matrix.columnVector(right)).to1DArray();
    moves = moves.map((move, k) => Math.max(-MOST_MOVE_PX, Math.min(MOST_MOVE_PX, move + change[k])));
    const now = shapeNow();
    radius = Math.max(0, Math.min(radius + change[4], (now.x1 - now.x0) / 2, (now.y1 - now.y0) / 2));
  }
  return shapeNow();
}

/** How far a sample lies outside, in the direction in which it was measured, and the outward direction there. */
function offAt({ x0, y0, x1, y1, radius }: RoundedRectangle, { xs, ys, inRow }: Samples, i: number) {
  const x = xs[i] - (x0 + x1) / 2;
  const y = ys[i] - (y0 + y1) / 2;
  const qx = Math.abs(x) - (x1 - x0) / 2 + radius;
  const qy = Math.abs(y) - (y1 - y0) / 2 + radius;
  let nx = qx > qy ? 1 : 0;
  let ny = 1 - nx;
  let off = Math.max(qx, qy) - radius;
  if (qx > 0 && qy > 0) {
    const away = Math.hypot(qx, qy);
    off = away - radius;
    nx = qx / away;
    ny = qy / away;
  }
  const share = Math.max(0.5, inRow[i] === 1 ? nx : ny);
  return { off: off / share, nx: x < 0 ? -nx : nx, ny: y < 0 ? -ny : ny, share };
}

function outlineOf({ x0, y0, x1, y1, radius }: RoundedRectangle): Ring {
  const out: Point[] = [];
  const [right, left, upper, lower] = [x1 - radius, x0 + radius, y0 + radius, y1 - radius];
  const corners = [
    [right, upper],
    [left, upper],
    [left, lower],
    [right, lower],
  ];
  corners.forEach(([x, y], k) => {
    pushArc(out, { x, y, radius }, (-k * Math.PI) / 2, -Math.PI / 2);
  });
  return out;
}
