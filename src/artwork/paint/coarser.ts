import { ringArea } from '../../geometry/area.js';
import { boxOf } from '../../geometry/bounds.js';
import { circleSteps } from '../../geometry/shapes.js';
import type { Region, Ring } from '../../geometry/types.js';

/** Rings with fewer corners are polygons that were meant. */
const LEAST_STEPS = 32;
/** The chords of a layer with very many discs; its box moves by less than half a micrometre, mm. */
const COARSE_MM = 5e-4;

/**
 * The same disc, of the same area, with fewer corners: a panel may hold fifty thousand of them. Anything but a disc is
 * left as it is.
 */
export function coarser(region: Region): Region {
  const { outer, islands } = region;
  if (outer.length < LEAST_STEPS || islands.length > 0) return region;
  const { minX, minY, maxX, maxY } = boxOf(region);
  const [cx, cy] = [(minX + maxX) / 2, (minY + maxY) / 2];
  const radius = Math.hypot(outer[0][0] - cx, outer[0][1] - cy);
  if (!outer.every(([x, y]) => Math.abs(Math.hypot(x - cx, y - cy) - radius) < 1e-9)) return region;
  if (!isEven(outer)) return region;
  const steps = circleSteps(radius, COARSE_MM);
  if (steps >= outer.length) return region;
  const angle = (2 * Math.PI) / steps;
  const reach = Math.sqrt((2 * ringArea(outer)) / (steps * Math.sin(angle)));
  const start = Math.atan2(outer[0][1] - cy, outer[0][0] - cx);
  return {
    outer: Array.from({ length: steps }, (_, i): [number, number] => [
      cx + reach * Math.cos(start + i * angle),
      cy + reach * Math.sin(start + i * angle),
    ]),
    islands,
  };
}

/** Whether all sides are equally long: an arc with a chord has one that is not. */
function isEven(ring: Ring): boolean {
  const side = Math.hypot(ring[1][0] - ring[0][0], ring[1][1] - ring[0][1]);
  return ring.every(([x, y], i) => {
    const [nx, ny] = ring[(i + 1) % ring.length];
    return Math.abs(Math.hypot(nx - x, ny - y) - side) < 1e-9;
  });
}
