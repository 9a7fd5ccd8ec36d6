import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { mapOpening, rotation } from '../../src/geometry/affine.js';
import { largestDisc, narrowestOwnWeb, narrowestWidth } from '../../src/geometry/narrowest.js';
import { offsetByEllipse } from '../../src/geometry/offset.js';
import { ellipse, rectangle, solid } from '../../src/geometry/shapes.js';
import type { Point, Region } from '../../src/geometry/types.js';

const outline = (...points: Point[]): Region => solid(points);

const homePlate = outline([0, 0], [1, 0], [1, 0.8], [0.5, 1.3], [0, 0.8]);
const dumbbell = outline(
  [0, 0],
  [2, 0],
  [2, 0.9],
  [3, 0.9],
  [3, 0],
  [5, 0],
  [5, 2],
  [3, 2],
  [3, 1.1],
  [2, 1.1],
  [2, 2],
  [0, 2],
);
const ring: Region = { outer: ellipse(0, 0, 2), islands: [[...ellipse(0, 0, 1.4)].reverse()] };
const eccentric: Region = { outer: ellipse(0, 0, 2), islands: [[...ellipse(0.4, 0, 1.4)].reverse()] };
const lShape = outline([0, 0], [4, 0], [4, 0.5], [1, 0.5], [1, 4], [0, 4]);
const notched = outline([-0.6, 0], [0.6, 0], [0.1, 0.5], [0.6, 1], [-0.6, 1], [-0.1, 0.5]);

describe('narrowestWidth', () => {
  it.each<[string, Region, number, number]>([
    ['the shorter side of a rectangle', solid(rectangle(0, 0, 0.3, 2)), 0.3, 9],
    ['the side of a square', solid(rectangle(0, 0, 1, 1)), 1, 9],
    ['the diameter of a disc', solid(ellipse(0, 0, 0.5)), 1, 3],
    ['the shorter axis of an ellipse', solid(ellipse(0, 0, 2, 0.5)), 1, 2],
    ['the body of a home plate, not its tip', homePlate, 1, 2],
    ['the neck of a dumbbell', dumbbell, 0.2, 9],
    ['the wall of a ring', ring, 0.6, 3],
    ['the thin side of an eccentric ring', eccentric, 0.2, 2],
    ['the thinner arm of an L', lShape, 0.5, 9],
    ['the waist between two notches', notched, 0.2, 9],
    ['the largest disc in a triangle: 2 area / (half the perimeter)', outline([0, 0], [4, 0], [0, 3]), 2, 2],
  ])('is %s', (_, region, wanted, digits) => {
    for (const angle of [0, 33, 45]) {
      expect(narrowestWidth(mapOpening(rotation(angle), region))).toBeCloseTo(wanted, digits);
    }
  });

  it('is where an opening closes when its walls move in', () => {
    // An outside reading of the same quantity: the clipper's inward offset.
    fc.assert(
      fc.property(
        fc.double({ min: 0.2, max: 2, noNaN: true }),
        fc.double({ min: 0.2, max: 2, noNaN: true }),
        fc.integer({ min: 0, max: 179 }),
        fc.constantFrom(0, 0.1),
        (w, h, angle, corner) => {
          const base = solid(rectangle(0, 0, w, h));
          const [rounded] = corner > 0 ? offsetByEllipse(base, corner, corner, 1) : [base];
          const region = mapOpening(rotation(angle), rounded);
          const width = narrowestWidth(region);
          expect(offsetByEllipse(region, width * 0.995, width * 0.995, -1)).toHaveLength(1);
          expect(offsetByEllipse(region, width * 1.005, width * 1.005, -1)).toHaveLength(0);
        },
      ),
      { numRuns: 60, seed: 3 },
    );
  });
});

describe('narrowestOwnWeb', () => {
  it.each<[string, Region, number | undefined]>([
    ['nothing for a convex opening', homePlate, undefined],
    ['nothing for an L', lShape, undefined],
    ['the film between two arms', outline([0, 0], [3, 0], [3, 2], [2, 2], [2, 1], [1.7, 1], [1.7, 2], [0, 2]), 0.3],
    [
      'the width of an island',
      { outer: rectangle(0, 0, 4, 4), islands: [[...rectangle(1, 1, 3, 1.4)].reverse()] },
      0.4,
    ],
  ])('is %s', (_, region, wanted) => {
    const web = narrowestOwnWeb(region);
    if (wanted === undefined) expect(web).toBeUndefined();
    else expect(web).toBeCloseTo(wanted, 2);
  });
});

describe('largestDisc', () => {
  it('finds the inscribed circle of a triangle', () => {
    expect(largestDisc(outline([0, 0], [4, 0], [0, 3]))).toBeCloseTo(2, 2);
  });
});
