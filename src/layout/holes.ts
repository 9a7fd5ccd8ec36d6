import type { DrilledHole } from '../artwork/drill/drilled-hole.js';
import { offsetByEllipse } from '../geometry/offset.js';
import { ellipse, solid } from '../geometry/shapes.js';
import type { Opening } from '../geometry/types.js';

/** Holes for tooling pins or screws as openings; a slot becomes an obround. */
export function holeOpenings(holes: readonly DrilledHole[]): Opening[] {
  return holes.map(({ x, y, diameterMm, slotTo }) => {
    if (!slotTo || (slotTo[0] === x && slotTo[1] === y)) return solid(ellipse(x, y, diameterMm / 2));
    // The centre line as a hair-thin rectangle, grown by the drill.
    const dx = slotTo[0] - x;
    const dy = slotTo[1] - y;
    const hair = 1e-4 / Math.hypot(dx, dy);
    const line = solid([
      [x + dy * hair, y - dx * hair],
      [slotTo[0] + dy * hair, slotTo[1] - dx * hair],
      [slotTo[0] - dy * hair, slotTo[1] + dx * hair],
      [x - dy * hair, y + dx * hair],
    ]);
    const [grown] = offsetByEllipse(line, diameterMm - 2e-4, diameterMm - 2e-4, 1);
    return grown;
  });
}
