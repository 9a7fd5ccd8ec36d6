import type { Region } from '../../geometry/types.js';
import { kept } from '../../kept.js';
import type { PlacedRegion } from './placed.js';

/** The strip across a region's longest wall in which all of it lies, about the region's own origin. */
interface Strip {
  /** Unit vector across. */
  readonly nx: number;
  readonly ny: number;
  readonly low: number;
  readonly high: number;
}

const strips = new WeakMap<Region, Strip>();

function stripOf(region: Region): Strip {
  let [nx, ny, longest] = [1, 0, 0];
  let [px, py] = region.outer[region.outer.length - 1];
  for (const [qx, qy] of region.outer) {
    const length = Math.hypot(qx - px, qy - py);
    if (length > longest) [nx, ny, longest] = [(py - qy) / length, (qx - px) / length, length];
    [px, py] = [qx, qy];
  }
  const [low, high] = extent(region, nx, ny);
  return { nx, ny, low, high };
}

function extent({ outer }: Region, nx: number, ny: number): [number, number] {
  let [low, high] = [Infinity, -Infinity];
  for (const [x, y] of outer) {
    const d = x * nx + y * ny;
    if (d < low) low = d;
    if (d > high) high = d;
  }
  return [low, high];
}

/**
 * Whether two objects surely do not touch: one lies beside the strip along the other's longest wall. Strokes at an
 * angle have boxes that overlap over all their length.
 */
export function surelyApart(p: PlacedRegion, q: PlacedRegion, gapMm: number): boolean {
  return beside(p, q, gapMm) || beside(q, p, gapMm);
}

function beside(p: PlacedRegion, q: PlacedRegion, gapMm: number): boolean {
  const { nx, ny, low, high } = kept(strips, p.shape, () => stripOf(p.shape));
  const [from, to] = extent(q.shape, nx, ny);
  const shift = (q.dx - p.dx) * nx + (q.dy - p.dy) * ny;
  return from + shift > high + gapMm || to + shift < low - gapMm;
}
