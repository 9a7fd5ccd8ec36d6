import { describe, expect, it } from 'vitest';
import { traceGrey } from '../../src/artwork/image/trace/trace.js';
import { toPixelShape } from '../../src/dots/shape.js';
import { classifyShapes } from '../../src/dots/shape-classes.js';
import type { Opening, Ring } from '../../src/geometry/types.js';
import { disc, greyImage, slanted } from '../artwork/image/trace/raster.js';
import { at, rounded } from '../export/boards.js';
import { seeded } from '../virtual-laser/random.js';

const SAME = { a: 1, b: 0, c: 0, d: 1, e: 0, f: 0 };
const classesOf = (openings: readonly Opening[]) => classifyShapes(openings.map((one) => toPixelShape(one, SAME)));

/** A shape drawn smoothly in places of no whole pixels, and traced. */
function traced(draw: (x: number, y: number) => Ring): Opening[] {
  const random = seeded(5);
  return Array.from({ length: 12 }, () => {
    const [opening] = traceGrey(greyImage([draw(40 + random(), 40 + random())], 80, 80), { x: 1, y: 1 });
    return opening;
  });
}

describe('traced copies are one shape, as symmetric as what was drawn', () => {
  it.each([
    ['slanted pads', (x: number, y: number) => slanted(x, y, 20, 31, 35), { halfTurn: true }],
    [
      'slanted pads with round corners',
      (x: number, y: number) => at(rounded(31, 37, 8), x, y, 25).outer,
      { halfTurn: true },
    ],
    [
      'upright ones',
      (x: number, y: number) => at(rounded(31, 37, 8), x, y).outer,
      { mirrorX: true, mirrorY: true, halfTurn: true },
    ],
    ['discs', (x: number, y: number) => disc(x, y, 9.5), { mirrorX: true, mirrorY: true, halfTurn: true }],
  ] as const)('%s', (_, draw, symmetry) => {
    const classes = classesOf(traced(draw));
    expect(classes).toHaveLength(1);
    expect(classes[0]).toMatchObject(symmetry);
  });
});

it('a pad that is wider by a tenth of a dot is another shape, and one with a corner cut off is not symmetric', () => {
  const pad = (width: number, cut = 0): Opening => ({
    outer: [
      [0, 0],
      [width, 0],
      [width, 30 - cut],
      [width - cut, 30],
      [0, 30],
    ],
    islands: [],
  });
  expect(classesOf([pad(20.3), pad(20.4)])).toHaveLength(2);
  expect(classesOf([pad(20.3, 0.8)])).toMatchObject([{ mirrorX: false, mirrorY: false, halfTurn: false }]);
});
