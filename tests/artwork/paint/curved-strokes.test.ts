import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { strokePolyline } from '../../../src/artwork/paint/stroke.js';
import { readArtwork } from '../../../src/artwork/read.js';
import type { Opening, Point, Ring } from '../../../src/geometry/types.js';
import { cases } from '../../cases.js';

/** Whether a point lies within a ring, by counting the walls to its right. */
function within(ring: Ring, [x, y]: Point): boolean {
  let inside = false;
  ring.forEach(([ax, ay], i) => {
    const [bx, by] = ring[(i + 1) % ring.length];
    if (ay <= y !== by <= y && x < ax + ((y - ay) / (by - ay)) * (bx - ax)) inside = !inside;
  });
  return inside;
}

const openingsAt = (openings: readonly Opening[], point: Point): number =>
  openings.filter(({ outer, islands }) => within(outer, point) && !islands.some((island) => within(island, point)))
    .length;

/** Points of a cubic curve. */
const cubic = ([p, q, r, s]: readonly Point[], steps: number): Point[] =>
  Array.from({ length: steps + 1 }, (_, i) => {
    const t = i / steps;
    const u = 1 - t;
    const on = (k: 0 | 1): number => u * u * u * p[k] + 3 * u * u * t * q[k] + 3 * u * t * t * r[k] + t * t * t * s[k];
    return [on(0), on(1)];
  });

describe('strokes of curves that turn more sharply than the pen is wide', () => {
  it('keep all that their legs cover, as one opening', () => {
    const coordinate = fc.double({ min: 0, max: 6, noNaN: true });
    const curve = fc.array(fc.tuple(coordinate, coordinate), { minLength: 5, maxLength: 5 });
    const draw = fc.tuple(curve, fc.integer({ min: 30, max: 300 }), fc.double({ min: 0.2, max: 1.2, noNaN: true }));
    fc.assert(
      fc.property(draw, ([[p, q, r, s, end], steps, widthMm]) => {
        // The way from the second handle to the end turns back within a fraction of the pen.
        const near: Point = [s[0] + (r[0] - 3) / 3, s[1] + (r[1] - 3) / 3];
        const far: Point = [2 * near[0] - s[0] + q[0] - 3, 2 * near[1] - s[1] + q[1] - 3];
        const points = [...cubic([p, far, near, s], steps), end];
        fc.pre(
          points.every((at, i) => i === 0 || Math.hypot(at[0] - points[i - 1][0], at[1] - points[i - 1][1]) > 1e-4),
        );
        const smooth = points.map((_, i) => i > 0 && i < steps);
        const pen = { widthMm, cap: 'butt', join: 'bevel', miterLimit: 4, dashMm: [], dashOffsetMm: 0 } as const;
        const openings = strokePolyline({ points, smooth, closed: false }, pen);
        expect(openings).toHaveLength(1);
        points.slice(1).forEach(([x1, y1], i) => {
          const [x0, y0] = points[i];
          const length = Math.hypot(x1 - x0, y1 - y0);
          for (const across of [-0.45, -0.2, 0.2, 0.45]) {
            const off = (across * widthMm) / length;
            const at: Point = [(x0 + x1) / 2 - off * (y1 - y0), (y0 + y1) / 2 + off * (x1 - x0)];
            expect(openingsAt(openings, at)).toBe(1);
          }
        });
      }),
      { numRuns: cases(30), seed: 7 },
    );
  });

  it('a hook at the end of a line is one opening', async () => {
    const path = 'M1.877 5.089l7.834-.9075C11.502 5.64 4.784-3.347 5.489-2.489L.973-4.793';
    const svg = `<svg xmlns="http://www.w3.org/2000/svg" width="14mm" height="14mm" viewBox="0 -7 14 14"><path d="${path}" fill="none" stroke="#000" stroke-width=".73947" stroke-linejoin="bevel"/></svg>`;
    const { openings } = await readArtwork(new TextEncoder().encode(svg));
    expect(openings).toHaveLength(1);
    // On the middle of the first leg, where a wedge was missing.
    for (const across of [-0.3, 0, 0.3]) expect(openingsAt(openings, [9.4, 2.775 + across])).toBe(1);
  });
});
