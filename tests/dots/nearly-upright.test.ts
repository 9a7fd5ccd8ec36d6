import { describe, expect, it } from 'vitest';
import { dotsOf } from '../../src/dots/rasterise.js';
import { solid } from '../../src/geometry/shapes.js';
import type { Ring } from '../../src/geometry/types.js';

/** Room around, dots. */
const AT = 10;
const CANVAS = { widthPx: 300, heightPx: 300, toPixels: { a: 1, b: 0, c: 0, d: 1, e: AT, f: AT } };

/** How far the outermost dots of columns lie off the wall that should bound them, on average over so many columns. */
function offWall(ring: Ring, wall: (x: number) => number, from: number, to: number): number {
  const dots = { dot: { x: 0.0254, y: 0.0254 }, kerfMm: { x: 0.11, y: 0.09 } };
  const [{ stamp, column, row }] = dotsOf([solid(ring)], { ...CANVAS, ...dots }).placed;
  let sum = 0;
  for (let x = from; x < to; x += 1) {
    let r = 0;
    const isBurnt = (at: number): boolean => {
      for (let k = stamp.rowStart[at]; k < stamp.rowStart[at + 1]; k += 2) {
        if (stamp.runs[k] <= x + AT - column && stamp.runs[k + 1] > x + AT - column) return true;
      }
      return false;
    };
    while (!isBurnt(r)) r += 1;
    sum += row + r - AT - wall(x + 0.5);
  }
  return sum / (to - from);
}

describe('walls that lean by about a dot from end to end', () => {
  // Corner marks as the bends of a bed command them, in dots; before, a tip of 14 dots stood for the whole wall.
  it.each([0.5, 0.69, 0.9, 1.05])('the long wall of an angle that leans by %f dots lies where it should', (lean) => {
    const ring: Ring = [
      [0, lean],
      [221.73, 0],
      [221.74, 16.12],
      [17.3, 16.76],
      [15.2, 18.5],
      [15.21, 225.25],
      [0.02, 225.3],
    ];
    const off = offWall(ring, (x) => lean * (1 - x / 221.73), 2, 220);
    expect(Math.abs(off)).toBeLessThan(0.5);
  });
});
