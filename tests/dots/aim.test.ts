import { expect, it } from 'vitest';
import { aimOf } from '../../src/dots/aim.js';
import { toPixelShape } from '../../src/dots/shape.js';
import { mapOpening, rotation } from '../../src/geometry/affine.js';
import { solid } from '../../src/geometry/shapes.js';
import type { Region } from '../../src/geometry/types.js';
import { box } from '../export/boards.js';
import { opened, pathsOf } from '../truth/laser.js';
import { area, grown } from '../truth/polygons.js';

const FRAME: Region = { outer: box(20, 12), islands: [[...box(9, 4)].reverse()] };
const ELBOW = solid([
  [0, 0],
  [20, 0],
  [20, 7],
  [8, 7],
  [8, 15],
  [0, 15],
]);

/** What the beam leaves at corners, by Clipper2: of an opening that is shrunk by it and grown again. */
it.each([
  [
    'a triangle',
    solid([
      [0, 0],
      [25, 3],
      [4, 19],
    ]),
  ],
  ['a pad', solid(box(12, 9))],
  ['an elbow', ELBOW],
  ['a frame, whose island has no corners to lose', FRAME],
] as const)('%s is to have the area that its corners lose, too, however it is turned or mirrored', (_, drawn) => {
  const kerf = { x: 3.4, y: 2.2 };
  const model = { scaleX: 1, scaleY: 1, shear: 0, kerfXMm: kerf.x, kerfYMm: kerf.y };
  for (const angleDeg of [0, 33, 118]) {
    const wanted = pathsOf([mapOpening(rotation(angleDeg), drawn)]);
    const [outer, ...islands] = grown(wanted, kerf.x, kerf.y, -1).sort((p, q) => area([q]) - area([p]));
    const lost = area(wanted) - area(opened(wanted, model));
    for (const flip of [1, -1]) {
      const shape = toPixelShape({ outer, islands }, { a: 1, b: 0, c: 0, d: flip, e: 40, f: 40 });
      const told = aimOf(shape, [], kerf).leastArea / 0.955 - shape.area;
      expect(Math.abs(told / lost - 1)).toBeLessThan(0.02);
    }
  }
});
