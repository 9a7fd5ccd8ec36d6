import { describe, expect, it } from 'vitest';
import { compose, type PaintedObject } from '../../../src/artwork/compose.js';
import { openingArea } from '../../../src/geometry/area.js';
import { ellipse, rectangle, solid } from '../../../src/geometry/shapes.js';
import type { Ring } from '../../../src/geometry/types.js';

const paint = (dark: boolean, ring: Ring): PaintedObject => ({ dark, regions: [solid(ring)] });
const square = rectangle(0, 0, 1, 1);

describe('slivers of rounding are no openings', () => {
  it.each([
    ['a clear square a tenth of a micrometre off', rectangle(0.0001, 0, 1.0001, 1)],
    ['a clear square 0.4 um off', rectangle(0.0004, 0, 1.0004, 1)],
    ['a clear square that leaves a corner of 5 um', rectangle(0.005, 0, 2, 2).with(0, [0.005, -1])],
  ])('%s leaves nothing of a land', (_name, clear) => {
    const left = compose([paint(true, square), paint(true, rectangle(5, 0, 6, 1)), paint(false, clear)]);
    const expected = clear[0][0] > 0.001 ? 2 : 1;
    expect(left).toHaveLength(expected);
  });

  it('a strip of 2 um that somebody drew stays', () => {
    expect(compose([paint(true, square), paint(false, rectangle(0.002, -1, 2, 2))])).toHaveLength(1);
    expect(compose([paint(true, rectangle(0, 0, 0.005, 0.005))])).toHaveLength(1);
  });

  it('film between two circles that were meant to be one is none', () => {
    const ring: PaintedObject = {
      dark: true,
      regions: [{ outer: ellipse(0, 0, 2), islands: [ellipse(0, 0, 1).toReversed()] }],
    };
    const turned = ellipse(0, 0, 1).map(([x, y]): [number, number] => {
      const turn = 0.01;
      return [x * Math.cos(turn) - y * Math.sin(turn), x * Math.sin(turn) + y * Math.cos(turn)];
    });
    const filled = compose([ring, paint(true, turned)]);
    expect(filled).toHaveLength(1);
    expect(filled[0].islands).toHaveLength(0);
    expect(openingArea(filled[0])).toBeCloseTo(4 * Math.PI, 3);
  });
});
