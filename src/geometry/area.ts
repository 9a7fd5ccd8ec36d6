import { InputError } from '../errors.js';
import { kept } from '../kept.js';
import { ringBounds } from './bounds.js';
import { copyOf, oncePerShape } from './copies.js';
import type { Point, Region, Ring } from './types.js';

/**
 * Signed area of a ring by the shoelace sum, taken about its first point so that far-off shapes lose no digits.
 *
 * @param ring - points in mm, closed implicitly
 * @returns mm²; positive when the ring runs counter-clockwise; 0 for fewer than three points
 */
export function ringArea(ring: Ring): number {
  if (ring.length < 3) return 0;
  const [x0, y0] = ring[0];
  let twice = 0;
  for (let i = 1; i + 1 < ring.length; i += 1) {
    const p = ring[i];
    const q = ring[i + 1];
    twice += (p[0] - x0) * (q[1] - y0) - (q[0] - x0) * (p[1] - y0);
  }
  return twice / 2;
}

/** Whether it has rings at all; what they are like `cleanOpenings` looks at. */
export function isRegion(region: unknown): region is Region {
  if (typeof region !== 'object' || region === null) return false;
  // A copy lays out its points only for those who need them.
  if (copyOf(region as Region)) return true;
  const { outer, islands } = region as Partial<Region>;
  return Array.isArray(outer) && Array.isArray(islands);
}

function requireRegion(region: Region): Region {
  if (isRegion(region)) return region;
  throw new InputError({
    code: 'BAD_OPENING',
    message: 'expected an opening with its rings, outer and islands; found something else.',
    hint: 'An opening without islands has an empty list: { outer, islands: [] }.',
  });
}

/**
 * Area of an opening: outer ring less its islands.
 *
 * @param opening - rings in mm; the direction of the rings does not matter
 * @returns mm², >= 0
 * @example openingArea({ outer: [[0, 0], [2, 0], [2, 1], [0, 1]], islands: [] }) // 2
 */
export function openingArea(opening: Region): number {
  return areaOf(requireRegion(opening));
}

const areaOf = oncePerShape((opening: Region): number => {
  let area = Math.abs(ringArea(opening.outer));
  for (const island of opening.islands) area -= Math.abs(ringArea(island));
  return area;
});

/** Length of a ring's boundary, mm. */
export function ringPerimeter(ring: Ring): number {
  let length = 0;
  for (let i = 0; i < ring.length; i += 1) {
    const p = ring[i];
    const q = ring[i + 1 === ring.length ? 0 : i + 1];
    const dx = q[0] - p[0];
    const dy = q[1] - p[1];
    length += Math.sqrt(dx * dx + dy * dy);
  }
  return length;
}

/**
 * Length of all walls of an opening, islands included, mm.
 *
 * @example openingPerimeter({ outer: [[0, 0], [2, 0], [2, 1], [0, 1]], islands: [] }) // 6
 */
export function openingPerimeter(opening: Region): number {
  return perimeterOf(requireRegion(opening));
}

const perimeterOf = oncePerShape((opening: Region): number => {
  return opening.islands.reduce((sum, island) => sum + ringPerimeter(island), ringPerimeter(opening.outer));
});

/**
 * Centre of area of an opening, mm. Falls back to the first point for an area of zero.
 *
 * @example openingCentroid({ outer: [[0, 0], [2, 0], [2, 1], [0, 1]], islands: [] }) // [1, 0.5]
 */
export function openingCentroid(opening: Region): [number, number] {
  const [x, y] = centroidOf(requireRegion(opening));
  const { dx, dy } = copyOf(opening) ?? { dx: 0, dy: 0 };
  return [x + dx, y + dy];
}

const centroidOf = oncePerShape((opening: Region): Point => {
  let area = 0;
  let mx = 0;
  let my = 0;
  const [ox, oy] = opening.outer[0];
  const add = (ring: Ring, sign: number): void => {
    const turn = ringArea(ring) < 0 ? -sign : sign;
    for (let i = 0; i < ring.length; i += 1) {
      const p = ring[i];
      const q = ring[i + 1 === ring.length ? 0 : i + 1];
      const px = p[0] - ox;
      const py = p[1] - oy;
      const qx = q[0] - ox;
      const qy = q[1] - oy;
      const cross = turn * (px * qy - qx * py);
      area += cross / 2;
      mx += (px + qx) * cross;
      my += (py + qy) * cross;
    }
  };
  add(opening.outer, 1);
  for (const island of opening.islands) add(island, -1);
  if (area === 0) return [ox, oy];
  return [ox + mx / (6 * area), oy + my / (6 * area)];
});

const insides = new WeakMap<Region, [number, number]>();

/** The middle of the widest stretch on a level that meets no corner: well inside, whatever the shape. */
export function insidePoint(region: Region): [number, number] {
  return kept(insides, region, () => insideOf(region));
}

function insideOf(region: Region): [number, number] {
  const { minY, maxY } = ringBounds(region.outer);
  let best: [number, number] = [region.outer[0][0], region.outer[0][1]];
  let widest = -1;
  // A few levels off round fractions; the first one decides unless the shape is only a thread there.
  for (const t of [0.4993, 0.2617, 0.7411]) {
    const y = minY + (maxY - minY) * t;
    for (const [from, to] of runsAt(region, y)) {
      if (to - from > widest * 1.5) {
        widest = to - from;
        best = [(from + to) / 2, y];
      }
    }
  }
  return best;
}

/** Where a level runs through an opening, from left to right. */
export function runsAt({ outer, islands }: Region, y: number): [from: number, to: number][] {
  const crossings: number[] = [];
  for (const ring of [outer, ...islands]) {
    let [px, py] = ring[ring.length - 1];
    for (const [qx, qy] of ring) {
      if (qy > y !== py > y) crossings.push(((px - qx) * (y - qy)) / (py - qy) + qx);
      [px, py] = [qx, qy];
    }
  }
  crossings.sort((a, b) => a - b);
  return Array.from({ length: crossings.length >> 1 }, (_, i) => [crossings[2 * i], crossings[2 * i + 1]]);
}
