import { expect, it } from 'vitest';
import { mapRing, rotation } from '../../src/geometry/affine.js';
import { boxAxes, ownAxes, sizeAlong } from '../../src/geometry/oriented-box.js';
import { solid } from '../../src/geometry/shapes.js';
import type { Ring } from '../../src/geometry/types.js';

const CROSS: Ring = (
  [
    [1, 3],
    [-1, 3],
    [-1, 1],
    [-3, 1],
    [-3, -1],
    [-1, -1],
    [-1, -3],
    [1, -3],
    [1, -1],
    [3, -1],
    [3, 1],
    [1, 1],
  ] as const
).map(([x, y]) => [x, y]);

it('a cross has its own sides, and askew to them those of the smallest box around it', () => {
  const turned = solid(mapRing(rotation(20), CROSS));
  const own = ownAxes(turned);
  const box = boxAxes(turned, own);
  expect(sizeAlong(turned, own)).toEqual([expect.closeTo(6, 9), expect.closeTo(6, 9)]);
  // Over two tips of arms, 45 degrees on: (3 + 1) · √2.
  const across = 4 * Math.SQRT2;
  expect(box && sizeAlong(turned, box)).toEqual([expect.closeTo(across, 9), expect.closeTo(across, 9)]);
  expect(box && box[0][0] * box[1][0] + box[0][1] * box[1][1]).toBeCloseTo(0, 12);
});

it('a pad has no other box than that along its sides', () => {
  const pad = solid(
    mapRing(rotation(20), [
      [0, 0],
      [2, 0],
      [2, 1],
      [0, 1],
    ]),
  );
  expect(boxAxes(pad, ownAxes(pad))).toBeUndefined();
});
