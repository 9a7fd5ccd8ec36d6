import { expect, it } from 'vitest';
import { growthFromArea } from '../../src/scan/measure/patch-of-opening.js';
import { area, grown, type Vec } from '../truth/polygons.js';

/** A disc of whole dots, as a coupon draws it, with its stairs. */
function dottedDisc(dots: number, pitch: number): Vec[] {
  const half = Array.from({ length: dots }, (_, column) => {
    const x = (2 * (column + 0.5)) / dots - 1;
    return Math.floor((Math.sqrt(1 - x * x) * dots) / 2 + 0.5);
  });
  const upper = half.flatMap((h, column): Vec[] => [
    [column * pitch, h * pitch],
    [(column + 1) * pitch, h * pitch],
  ]);
  return [...upper, ...upper.toReversed().map(([x, y]): Vec => [x, -y])].reverse();
}

it('takes the growth of a disc from its dots, not from a hull around them, which makes it 2 µm too small', () => {
  for (const dots of [4, 7, 12, 31]) {
    const ring = dottedDisc(dots, 0.0254);
    for (const [x, y] of [
      [0.11, 0.09],
      [0.06, 0.15],
      [0.2, 0.2],
    ]) {
      // The area is clipper2-wasm's: another library than the one that the reader uses.
      expect(growthFromArea(ring, area(grown([ring], x, y)), y - x)).toBeCloseTo(x, 3.7);
    }
  }
});
