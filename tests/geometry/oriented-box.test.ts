import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { mapRing, rotation } from '../../src/geometry/affine.js';
import { ringBounds } from '../../src/geometry/bounds.js';
import { convexHull, orientedBox } from '../../src/geometry/oriented-box.js';
import { ellipse, rectangle } from '../../src/geometry/shapes.js';
import { seeded } from '../virtual-laser/random.js';

describe('orientedBox', () => {
  it.each([
    [0, 0],
    [30, 30],
    [45, 45],
    [-45, 45],
    [60, -30],
    [120, 30],
    [179, -1],
  ])('measures a rectangle turned by %i degrees at %i', (turned, angleDeg) => {
    const box = orientedBox(mapRing(rotation(turned), rectangle(1, 2, 1.5, 4)));
    const sizes = [box.widthMm, box.heightMm].sort((p, q) => p - q);
    expect(sizes).toEqual([expect.closeTo(0.5, 9), expect.closeTo(2, 9)]);
    expect(box.angleDeg).toBeCloseTo(angleDeg, 6);
    const [x, y] = mapRing(rotation(turned), [[1.25, 3]])[0];
    expect(box.centre).toEqual([expect.closeTo(x, 9), expect.closeTo(y, 9)]);
  });

  it('keeps round shapes upright', () => {
    expect(orientedBox(ellipse(3, 4, 0.4)).angleDeg).toBe(0);
  });

  it('holds every corner and is never larger than the upright box', () => {
    const point = fc.tuple(fc.double({ min: -5, max: 5, noNaN: true }), fc.double({ min: -5, max: 5, noNaN: true }));
    fc.assert(
      fc.property(fc.array(point, { minLength: 3, maxLength: 20 }), (ring) => {
        const { centre, widthMm, heightMm, angleDeg } = orientedBox(ring);
        const turned = mapRing(
          rotation(-angleDeg),
          ring.map(([x, y]): [number, number] => [x - centre[0], y - centre[1]]),
        );
        for (const [x, y] of turned) {
          expect(Math.abs(x)).toBeLessThanOrEqual(widthMm / 2 + 1e-9);
          expect(Math.abs(y)).toBeLessThanOrEqual(heightMm / 2 + 1e-9);
        }
        const xs = ring.map(([x]) => x);
        const ys = ring.map(([, y]) => y);
        const upright = (Math.max(...xs) - Math.min(...xs)) * (Math.max(...ys) - Math.min(...ys));
        expect(widthMm * heightMm).toBeLessThanOrEqual(upright + 1e-9);
      }),
      { numRuns: 200, seed: 4 },
    );
  });
});

describe('convexHull', () => {
  it('leaves out inner and in-line points', () => {
    expect(
      convexHull([
        [0, 0],
        [2, 0],
        [1, 0],
        [1, 1],
        [2, 2],
        [0, 2],
      ]),
    ).toEqual([
      [0, 0],
      [2, 0],
      [2, 2],
      [0, 2],
    ]);
  });

  it('is the smallest one along any side of the hull', () => {
    const random = seeded(12);
    for (const count of [3, 4, 7, 60, 900]) {
      const hull = convexHull(Array.from({ length: count }, (): [number, number] => [3 * random(), random() ** 2]));
      const areas = hull.map(([x, y], i) => {
        const [nextX, nextY] = hull[(i + 1) % hull.length];
        const { minX, minY, maxX, maxY } = ringBounds(
          mapRing(rotation((-180 / Math.PI) * Math.atan2(nextY - y, nextX - x)), hull),
        );
        return (maxX - minX) * (maxY - minY);
      });
      const { minX, minY, maxX, maxY } = ringBounds(hull);
      const upright = (maxX - minX) * (maxY - minY);
      const { widthMm, heightMm } = orientedBox(hull);
      const least = Math.min(...areas);
      expect(widthMm * heightMm).toBeCloseTo(least < 0.999 * upright ? least : upright, 9);
    }
  });

  it('of a ring of 20,000 corners is found in no time', () => {
    const corner = (i: number): [number, number] => [
      20 * Math.cos(i * 1e-4 * Math.PI),
      20 * Math.sin(i * 1e-4 * Math.PI),
    ];
    const before = process.cpuUsage();
    expect(orientedBox(Array.from({ length: 20_000 }, (_, i) => corner(i))).widthMm).toBeCloseTo(40, 6);
    // Work of the processor, not time: every corner for every side takes 2.5 s of it, hands that turn 0.05 s.
    expect(process.cpuUsage(before).user / 1e6).toBeLessThan(0.8);
  });
});
