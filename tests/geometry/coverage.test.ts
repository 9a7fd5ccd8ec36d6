import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { toPixelShape } from '../../src/dots/shape.js';
import { translation } from '../../src/geometry/affine.js';
import { openingArea } from '../../src/geometry/area.js';
import { intersectRegions } from '../../src/geometry/boolean.js';
import { ringBounds } from '../../src/geometry/bounds.js';
import { coverageGrid, coverageRuns } from '../../src/geometry/coverage.js';
import { convexHull } from '../../src/geometry/oriented-box.js';
import { ellipse, rectangle, solid } from '../../src/geometry/shapes.js';
import type { PerAxis, Region } from '../../src/geometry/types.js';
import { seeded } from '../virtual-laser/random.js';

const sum = (values: Float64Array): number => values.reduce((a, b) => a + b, 0);

/**
 * How much of each dot a region covers.
 *
 * @returns row by row from the upper one, 0 … 1
 */
function coverage(
  region: Region,
  box: { readonly minX: number; readonly minY: number; readonly maxX: number; readonly maxY: number },
  dotMm: PerAxis,
): { readonly width: number; readonly height: number; readonly shares: Float64Array } {
  const width = Math.ceil((box.maxX - box.minX) / dotMm.x - 1e-6);
  const height = Math.ceil((box.maxY - box.minY) / dotMm.y - 1e-6);
  const moved = translation(-box.minX / dotMm.x, box.maxY / dotMm.y);
  const shape = toPixelShape(region, { ...moved, a: 1 / dotMm.x, d: -1 / dotMm.y });
  // The grid also takes what reaches beyond the box.
  const left = Math.min(0, Math.floor(shape.minX));
  const top = Math.min(0, Math.floor(shape.minY));
  const columns = Math.max(width, Math.ceil(shape.maxX)) - left;
  const rows = Math.max(height, Math.ceil(shape.maxY)) - top;
  const grid = coverageGrid(shape.walls, -left, -top, columns, rows);
  const shares = new Float64Array(width * height);
  for (let r = 0; r < height; r += 1) {
    const start = (r - top) * (columns + 1) - left;
    shares.set(grid.subarray(start, start + width), r * width);
  }
  return { width, height, shares };
}

describe('coverage', () => {
  it('of a rectangle between dots is worked out by hand', () => {
    const { shares } = coverage(
      solid(rectangle(0.5, 0.25, 2.5, 1)),
      { minX: 0, minY: 0, maxX: 3, maxY: 2 },
      { x: 1, y: 1 },
    );
    expect([...shares]).toEqual([0, 0, 0, 0.375, 0.75, 0.375]);
  });

  it('of a triangle on dots that are twice as wide as high', () => {
    const triangle = solid([
      [0, 0],
      [4, 0],
      [0, 4],
    ] as const);
    const { shares } = coverage(triangle, { minX: 0, minY: 0, maxX: 4, maxY: 4 }, { x: 2, y: 1 });
    expect([...shares]).toEqual([0.25, 0, 0.75, 0, 1, 0.25, 1, 0.75]);
  });

  it('of a disc sums up to its area, and a ring has film inside', () => {
    const ring: Region = { outer: ellipse(5, 5, 4), islands: [ellipse(5, 5, 2).toReversed()] };
    const { shares, width } = coverage(ring, { minX: 0, minY: 0, maxX: 10, maxY: 10 }, { x: 0.5, y: 0.5 });
    expect(sum(shares) * 0.25).toBeCloseTo(openingArea(ring), 9);
    expect(sum(shares) * 0.25).toBeCloseTo(Math.PI * 12, 3);
    expect(shares[10 * width + 10]).toBeCloseTo(0, 12);
  });

  it('of any polygon agrees with the clipper dot by dot, also where it reaches beyond the box', () => {
    const point = fc.tuple(fc.double({ min: -2, max: 6, noNaN: true }), fc.double({ min: -2, max: 6, noNaN: true }));
    fc.assert(
      fc.property(fc.array(point, { minLength: 3, maxLength: 12 }), (points) => {
        const hull = solid(convexHull(points));
        fc.pre(hull.outer.length >= 3 && openingArea(hull) > 0.01);
        const { shares, width } = coverage(hull, { minX: 0, minY: 0, maxX: 4, maxY: 4 }, { x: 1, y: 1 });
        for (let row = 0; row < 4; row += 1) {
          for (let column = 0; column < 4; column += 1) {
            const dot = solid(rectangle(column, 3 - row, column + 1, 4 - row));
            const common = intersectRegions([hull], [dot]).reduce((area, one) => area + openingArea(one), 0);
            expect(Math.abs(shares[row * width + column] - common)).toBeLessThan(1e-4);
          }
        }
        expect(ringBounds(hull.outer).maxX).toBeLessThanOrEqual(6);
      }),
      { numRuns: 60, seed: 4 },
    );
  });

  it('told by runs is the same, also over more rows than are held at a time', () => {
    const random = seeded(31);
    for (const [width, height, corners] of [
      [9, 7, 5],
      [40, 300, 9],
      [70, 530, 60],
    ]) {
      const at = (most: number): number => random() * most;
      const points = Array.from({ length: corners }, () => [at(width), at(height)]);
      // Level and upright walls along the dots' edges, too.
      points.push([3, 2], [width - 2, 2], [width - 2, 5], [3, 5]);
      const walls = Float64Array.from(points.flatMap((p, i) => [...p, ...points[(i + 1) % points.length]]));
      const grid = coverageGrid(walls, 0, 0, width, height);
      const told = new Float64Array(grid.length);
      let last = -1;
      coverageRuns(walls, 0, 0, width, height, (row, from, to, share) => {
        if (row * width + from <= last) throw new Error(`row ${row} comes back to ${from}`);
        last = row * width + to - 1;
        told.fill(share, row * (width + 1) + from, row * (width + 1) + to);
      });
      const off = grid.map((share, i) => (i % (width + 1) === width ? 0 : Math.abs(share - told[i])));
      expect(off.reduce((most, one) => Math.max(most, one), 0)).toBeLessThan(1e-9);
    }
  });
});
