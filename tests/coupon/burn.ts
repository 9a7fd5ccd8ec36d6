import type { DimensionalFeature } from '../../src/coupon/features.js';
import type { Opening, Point } from '../../src/geometry/types.js';

/** A virtual machine: shear and scales, and the kerf ellipse's full widths. */
export interface Machine {
  readonly sx: number;
  readonly sy: number;
  readonly shear: number;
  readonly kx: number;
  readonly ky: number;
}

/**
 * Reads features off a virtual film without any polygon offset: a point is burnt when, in space scaled so that the
 * kerf ellipse is the unit circle, it lies inside an opening or nearer than 1 to its outline. Edges are found by bisection.
 */
export function filmReader(openings: readonly Opening[], { sx, sy, shear, kx, ky }: Machine) {
  const land = ([x, y]: Point): Point => [sx * x + shear * y, sy * y];
  const scaled = ([x, y]: Point): Point => [(2 * x) / kx, (2 * y) / ky];
  const rings = openings.map(({ outer }) => {
    const ring = outer.map((p) => scaled(land(p)));
    const xs = ring.map(([x]) => x);
    const ys = ring.map(([, y]) => y);
    return { ring, box: [Math.min(...xs) - 1, Math.min(...ys) - 1, Math.max(...xs) + 1, Math.max(...ys) + 1] };
  });
  const burnt = (point: Point): boolean => {
    const [x, y] = scaled(point);
    return rings.some(
      ({ ring, box }) =>
        x > box[0] && y > box[1] && x < box[2] && y < box[3] && (insideOf(x, y, ring) || nearTo(x, y, ring)),
    );
  };
  return {
    burnt,
    /** Distance between the two edges of a feature, each looked for from the middle of the film or the opening. */
    read({ kind, from, to, side, by }: DimensionalFeature): number | 'gone' | 'closed' {
      const [p, q] = [land(from), land(to)];
      const length = Math.hypot(q[0] - p[0], q[1] - p[1]);
      const at = (t: number): Point => [p[0] + ((q[0] - p[0]) * t) / length, p[1] + ((q[1] - p[1]) * t) / length];
      /** Where burnt turns to film between t0 and t1, which lie on different sides. */
      const edge = (film: number, hole: number): number => {
        let [a, b] = [film, hole];
        for (let i = 0; i < 50; i += 1) {
          const middle = (a + b) / 2;
          if (burnt(at(middle))) b = middle;
          else a = middle;
        }
        return (a + b) / 2;
      };
      const reach = Math.hypot(kx, ky);
      // Jaws stand in the two windows at the ends, whatever is between.
      if (kind === 'opening' && by === 'jaws') return edge(length + reach, length - 0.5) - edge(-reach, 0.5);
      if (kind === 'opening') {
        return burnt(at(length / 2)) ? edge(length + reach, length / 2) - edge(-reach, length / 2) : 'closed';
      }
      if (kind === 'web') {
        return burnt(at(length / 2)) ? 'gone' : edge(length / 2, length + 1e-3) - edge(length / 2, -1e-3);
      }
      if (side === 'far') throw new Error('no coupon has far spans');
      return edge(length - reach, length + 1e-3) - edge(-reach, 1e-3);
    },
  };
}

function insideOf(x: number, y: number, ring: readonly Point[]): boolean {
  let inside = false;
  ring.forEach(([ax, ay], i) => {
    const [bx, by] = ring[(i + 1) % ring.length];
    if (ay > y !== by > y && x < ax + ((y - ay) * (bx - ax)) / (by - ay)) inside = !inside;
  });
  return inside;
}

function nearTo(x: number, y: number, ring: readonly Point[]): boolean {
  return ring.some(([ax, ay], i) => {
    const [bx, by] = ring[(i + 1) % ring.length];
    const [dx, dy] = [bx - ax, by - ay];
    const t = Math.min(1, Math.max(0, ((x - ax) * dx + (y - ay) * dy) / (dx * dx + dy * dy)));
    return (x - ax - t * dx) ** 2 + (y - ay - t * dy) ** 2 < 1;
  });
}
