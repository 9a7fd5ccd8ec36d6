import { expect, it } from 'vitest';
import type { Point } from '../../src/geometry/types.js';
import { featuresOfOpenings } from '../../src/scan/find/features-of-openings.js';

const CANVAS = { widthMm: 10, heightMm: 10, pitchXMm: 0.05, pitchYMm: 0.05 };
const MACHINE = { scaleX: 1, scaleY: 1, shear: 0, kerfXMm: 0.1, kerfYMm: 0.1 };

/** An upright rectangle of 1 x 0.8 mm whose upper right corner lacks so much of each side. */
function lacking(share: number): Point[] {
  const [x, y] = [1 - share, 0.8 * (1 - share)];
  return [[0, 0], [1, 0], [1, y], [x, y], [x, 0.8], [0, 0.8]]; // biome-ignore format: one ring
}

const widthsOf = (outer: readonly Point[]): number[] =>
  featuresOfOpenings('a', CANVAS, [{ outer, islands: [] }], MACHINE).features.flatMap((feature) =>
    'nominalMm' in feature ? [Number(feature.nominalMm.toFixed(6))] : [],
  );

it('a rectangle that lacks dots at its corners has the width and height of its walls, a bitten one none', () => {
  expect(widthsOf(lacking(0.1))).toEqual([1, 0.8]);
  expect(widthsOf(lacking(0.35))).toEqual([]);
});
