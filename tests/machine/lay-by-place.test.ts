import { expect, it } from 'vitest';
import { regionBounds } from '../../src/geometry/bounds.js';
import { rectangle, solid } from '../../src/geometry/shapes.js';
import type { Point } from '../../src/geometry/types.js';
import { distanceToWalls, wallsOf } from '../../src/geometry/walls.js';
import { layByPlace } from '../../src/machine/lay-by-place.js';

/** 0.3 mm of barrel over 150 mm. */
const bent = ([x, y]: Point): Point => {
  const share = (x * x + y * y) / 75 ** 2;
  return [x * (1 + 0.004 * share), y * (1 + 0.004 * share)];
};

it('a long one follows the bed to half a micrometre, wall by wall', () => {
  const long = solid(rectangle(-60, 20, 60, 21));
  const [laid] = layByPlace([long], [0], [regionBounds(long)], bent);
  const sides: readonly (readonly [Point, Point])[] = [
    [
      [-60, 20],
      [60, 20],
    ],
    [
      [60, 20],
      [60, 21],
    ],
    [
      [60, 21],
      [-60, 21],
    ],
    [
      [-60, 21],
      [-60, 20],
    ],
  ];
  const walls = wallsOf(laid);
  let farthest = 0;
  for (const [p, q] of sides) {
    for (let k = 0; k <= 500; k += 1) {
      const to = bent([p[0] + ((q[0] - p[0]) * k) / 500, p[1] + ((q[1] - p[1]) * k) / 500]);
      farthest = Math.max(farthest, distanceToWalls(to, walls));
    }
  }
  expect(farthest).toBeLessThan(0.0005);
  // By as few points as that takes.
  expect(laid.outer.length).toBeLessThan(200);
});
