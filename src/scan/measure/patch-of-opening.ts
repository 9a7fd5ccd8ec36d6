import { medianOf } from '../picture/robust.js';
import type { Strip } from './strip.js';

/** What a small opening shows in two directions. */
export interface Patch {
  /** By what stands out over the whole of it, mm²: blur does not change it. */
  readonly areaMm2: number;
  /** By what stands out along a line through the middle, across and along, mm. */
  readonly acrossMm: number;
  readonly alongMm: number;
}

/**
 * Sums what stands out within an ellipse about the middle of a strip; the ground is a plane through the strip's rim.
 *
 * @param reach - half axes of the ellipse, mm
 * @param band - half width of the bands through the middle, mm: along for the width across, across for the width along
 */
export function measurePatch(
  strip: Strip,
  reach: readonly [number, number],
  band: readonly [number, number],
  inside: (ground: number) => number,
): Patch | undefined {
  const { rows, columns, levels, stepMm, rowStepMm, firstMm, firstRowMm } = strip;
  const rim = { left: [] as number[], right: [] as number[], low: [] as number[], high: [] as number[] };
  for (let j = 0; j < rows; j += 1) {
    for (let k = 0; k < 3; k += 1) {
      rim.left.push(levels[j * columns + k]);
      rim.right.push(levels[j * columns + columns - 1 - k]);
    }
  }
  for (let i = 0; i < columns; i += 1) {
    for (let k = 0; k < 3; k += 1) {
      rim.low.push(levels[k * columns + i]);
      rim.high.push(levels[(rows - 1 - k) * columns + i]);
    }
  }
  const [left, right, low, high] = [rim.left, rim.right, rim.low, rim.high].map(medianOf);
  const mean = (left + right + low + high) / 4;
  const height = inside(mean) - mean;
  let [area, across, along] = [0, 0, 0];
  let [acrossRows, alongColumns] = [0, 0];
  for (let j = 0; j < rows; j += 1) {
    const t = firstRowMm + j * rowStepMm;
    if (Math.abs(t) <= band[1]) acrossRows += 1;
    for (let i = 0; i < columns; i += 1) {
      const s = firstMm + i * stepMm;
      if (j === 0 && Math.abs(s) <= band[0]) alongColumns += 1;
      if ((s / reach[0]) ** 2 + (t / reach[1]) ** 2 > 1) continue;
      const ground =
        mean + ((right - left) * s) / ((columns - 1) * stepMm) + ((high - low) * t) / ((rows - 1) * rowStepMm);
      const share = (levels[j * columns + i] - ground) / height;
      area += share;
      if (Math.abs(t) <= band[1]) across += share;
      if (Math.abs(s) <= band[0]) along += share;
    }
  }
  if (acrossRows === 0 || alongColumns === 0) return undefined;
  return {
    areaMm2: area * stepMm * rowStepMm,
    acrossMm: (across * stepMm) / acrossRows,
    alongMm: (along * rowStepMm) / alongColumns,
  };
}

/**
 * Width across of a shape that grew by an ellipse, from its area and from how much longer it is along than across.
 * Minkowski's sum of a convex ring and an ellipse: in units of the ellipse's half axes it is a disc, and the area grows by
 * perimeter and pi.
 *
 * @param hull - the convex shape before it grew, mm, axis-parallel to across and along
 * @param difference - growth along less growth across, mm
 * @returns growth across, mm
 */
export function growthFromArea(
  hull: readonly (readonly [number, number])[],
  areaMm2: number,
  difference: number,
): number | undefined {
  const areaFor = (across: number): number => {
    const [rx, ry] = [Math.max(1e-6, across / 2), Math.max(1e-6, (across + difference) / 2)];
    let [area, length] = [0, 0];
    hull.forEach(([ax, ay], i) => {
      const [bx, by] = hull[(i + 1) % hull.length];
      area += (ax * by - bx * ay) / 2;
      length += Math.hypot((bx - ax) / rx, (by - ay) / ry);
    });
    return Math.abs(area) + (length + Math.PI) * rx * ry;
  };
  let [low, high] = [Math.max(0, -difference), 0.6];
  if (areaFor(low) > areaMm2) {
    // Smaller than asked: the shape shrinks as a whole.
    const [width] = sizeOf(hull);
    const own = areaFor(low);
    return low + width * (Math.sqrt(areaMm2 / own) - 1);
  }
  if (areaFor(high) < areaMm2) return undefined;
  for (let k = 0; k < 40; k += 1) {
    const middle = (low + high) / 2;
    if (areaFor(middle) < areaMm2) low = middle;
    else high = middle;
  }
  return (low + high) / 2;
}

function sizeOf(ring: readonly (readonly [number, number])[]): [number, number] {
  const xs = ring.map(([x]) => x);
  const ys = ring.map(([, y]) => y);
  return [Math.max(...xs) - Math.min(...xs), Math.max(...ys) - Math.min(...ys)];
}

/** Andrew's monotone chain (Information Processing Letters 9 (1979), 216-219), counter-clockwise. */
export function convexHull(points: readonly (readonly [number, number])[]): [number, number][] {
  const sorted = points.map(([x, y]): [number, number] => [x, y]).sort((p, q) => p[0] - q[0] || p[1] - q[1]);
  const half = (list: readonly [number, number][]): [number, number][] => {
    const chain: [number, number][] = [];
    for (const p of list) {
      while (chain.length > 1) {
        const [a, b] = [chain[chain.length - 2], chain[chain.length - 1]];
        if ((b[0] - a[0]) * (p[1] - a[1]) - (b[1] - a[1]) * (p[0] - a[0]) > 0) break;
        chain.pop();
      }
      chain.push(p);
    }
    return chain.slice(0, -1);
  };
  return [...half(sorted), ...half(sorted.toReversed())];
}
