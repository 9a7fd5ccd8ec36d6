import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { openingArea, ringArea } from '../../src/geometry/area.js';
import { boundsOf, ringBounds } from '../../src/geometry/bounds.js';
import { erodeByEdges, isConvex } from '../../src/geometry/convex.js';
import { offsetByEllipse } from '../../src/geometry/offset.js';
import { convexHull } from '../../src/geometry/oriented-box.js';
import { ellipse, solid } from '../../src/geometry/shapes.js';
import type { Ring } from '../../src/geometry/types.js';
import { rounded } from '../export/boards.js';
import { seeded } from '../virtual-laser/random.js';

describe('moving the edges of a ring in', () => {
  it('leaves of a convex ring what a polygon clipper does', () => {
    let compared = 0;
    fc.assert(
      fc.property(
        fc.array(fc.tuple(fc.double({ min: -2, max: 2, noNaN: true }), fc.double({ min: -2, max: 2, noNaN: true })), {
          minLength: 5,
          maxLength: 25,
        }),
        fc.double({ min: 0.02, max: 1.5, noNaN: true }),
        fc.double({ min: 0.02, max: 1.5, noNaN: true }),
        (points, kx, ky) => {
          const hull = convexHull(points);
          fc.pre(hull.length >= 3 && Math.abs(ringArea(hull)) > 0.5 && isConvex(hull));
          const clipped = offsetByEllipse(solid(hull), kx, ky, -1);
          const quick = erodeByEdges(hull, kx, ky);
          if (quick === undefined) return;
          compared += 1;
          expect(ringArea(quick)).toBeCloseTo(
            clipped.reduce((sum, one) => sum + openingArea(one), 0),
            4,
          );
        },
      ),
      { numRuns: 300, seed: 5 },
    );
    expect(compared).toBeGreaterThan(150);
  });

  it('loses corners smaller than the kerf', () => {
    const quick = erodeByEdges(rounded(1, 0.6, 0.04), 0.12, 0.1) as Ring;
    const box = ringBounds(quick);
    expect(box.maxX - box.minX).toBeCloseTo(0.88, 9);
    expect(box.maxY - box.minY).toBeCloseTo(0.5, 9);
    const [clipped] = offsetByEllipse(solid(rounded(1, 0.6, 0.04)), 0.12, 0.1, -1);
    expect(ringArea(quick)).toBeCloseTo(openingArea(clipped), 5);
  });

  it('agrees with a polygon clipper where an outline wobbles', () => {
    const random = seeded(3);
    const wobble = (ring: Ring, by: number): Ring =>
      ring.map(([x, y]): [number, number] => [x + by * (random() - 0.5), y + by * (random() - 0.5)]);
    for (const ring of [wobble(ellipse(0, 0, 0.4), 1e-4), wobble(rounded(1.2, 0.7, 0.2, 6), 2e-4)]) {
      expect(isConvex(ring) && ring.length < 20).toBe(false);
      const quick = erodeByEdges(ring, 0.12, 0.1) as Ring;
      const clipped = offsetByEllipse(solid(ring), 0.12, 0.1, -1);
      expect(clipped).toHaveLength(1);
      expect(ringArea(quick) / openingArea(clipped[0])).toBeCloseTo(1, 3);
      const [p, q] = [ringBounds(quick), boundsOf(clipped)];
      expect(Math.abs(p.maxX - (q?.maxX ?? 0))).toBeLessThan(2e-4);
      expect(Math.abs(p.minY - (q?.minY ?? 0))).toBeLessThan(2e-4);
    }
  });

  it('leaves rings that bend, and those that vanish, to others', () => {
    const bent: Ring = [
      [0, 0],
      [2, 0],
      [2, 2],
      [1, 1],
      [0, 2],
    ];
    expect(erodeByEdges(bent, 0.1, 0.1)).toBeUndefined();
    expect(erodeByEdges(ellipse(0, 0, 0.05), 0.12, 0.12)).toBeUndefined();
  });
});
