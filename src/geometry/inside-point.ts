import { ringBounds } from './bounds.js';
import type { Region } from './types.js';

const insides = new WeakMap<Region, [number, number]>();

/** The middle of the widest stretch on a level that meets no corner: well inside, whatever the shape. */
export function insidePoint(region: Region): [number, number] {
  const known = insides.get(region);
  if (known) return known;
  const rings = [region.outer, ...region.islands];
  const { minY, maxY } = ringBounds(region.outer);
  let best: [number, number] = [region.outer[0][0], region.outer[0][1]];
  let widest = -1;
  // A few levels off round fractions; the first one decides unless the shape is only a thread there.
  for (const t of [0.4993, 0.2617, 0.7411]) {
    const y = minY + (maxY - minY) * t;
    const crossings: number[] = [];
    for (const ring of rings) {
      let [px, py] = ring[ring.length - 1];
      for (const [qx, qy] of ring) {
        if (qy > y !== py > y) crossings.push(((px - qx) * (y - qy)) / (py - qy) + qx);
        [px, py] = [qx, qy];
      }
    }
    crossings.sort((p, q) => p - q);
    for (let i = 0; i + 1 < crossings.length; i += 2) {
      const width = crossings[i + 1] - crossings[i];
      if (width > widest * 1.5) {
        widest = width;
        best = [(crossings[i] + crossings[i + 1]) / 2, y];
      }
    }
  }
  insides.set(region, best);
  return best;
}
