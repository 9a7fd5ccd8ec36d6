import { ringArea } from '../../geometry/area.js';
import { simplifyRing } from '../../geometry/simplify.js';
import type { Ring } from '../../geometry/types.js';

/** Most by which a left-out point may lie off the outline, pixels. */
const TOLERANCE_PX = 0.02;
const FEW = 8;

/** Leaves out points that later steps need not carry, and keeps the enclosed area: all points move out a little. */
export function thinOut(ring: Ring): Ring {
  if (ring.length <= FEW) return ring;
  const few = simplifyRing(ring, TOLERANCE_PX);
  if (few.length === ring.length) return ring;
  const area = ringArea(few);
  const missing = ringArea(ring) - area;
  let length = 0;
  for (let i = 0; i < few.length; i += 1) {
    const b = few[i + 1 === few.length ? 0 : i + 1];
    length += Math.hypot(b[0] - few[i][0], b[1] - few[i][1]);
  }
  const by = missing / length;
  if (!(Math.abs(by) < TOLERANCE_PX)) return ring;
  return few.map(([x, y], i): [number, number] => {
    const a = few[i === 0 ? few.length - 1 : i - 1];
    const b = few[i + 1 === few.length ? 0 : i + 1];
    const [ax, ay, bx, by_] = [x - a[0], y - a[1], b[0] - x, b[1] - y];
    const [p, q] = [Math.hypot(ax, ay) || 1, Math.hypot(bx, by_) || 1];
    // The sum of both edges' normals, for a ring that runs counter-clockwise in its own axes.
    const nx = ay / p + by_ / q;
    const ny = -ax / p - bx / q;
    const size2 = nx * nx + ny * ny;
    if (size2 < 0.5) return [x, y];
    return [x + (2 * by * nx) / size2, y + (2 * by * ny) / size2];
  });
}
