import { describe, expect, it } from 'vitest';
import { mapOpening, mapRing, rotation, translation } from '../../src/geometry/affine.js';
import { solid } from '../../src/geometry/shapes.js';
import type { Point } from '../../src/geometry/types.js';
import { rounded } from '../export/boards.js';
import { seeded } from '../virtual-laser/random.js';
import { judge } from './judge.js';
import { LASERS } from './laser.js';
import { BLUNT, shapeOf } from './shapes.js';

const L: readonly Point[] = [
  [0, 0],
  [1.5, 0],
  [1.5, 0.118],
  [0.5, 0.118],
  [0.5, 0.6],
  [0, 0.6],
];

describe('odd shapes under the virtual laser, by an independent polygon library', () => {
  it('a limb just wider than the kerf is cut, however it is turned', () => {
    for (const angleDeg of [0, 30, 117]) {
      const turned = solid(mapRing(rotation(angleDeg), L));
      const verdict = judge({ kind: 'L', asked: mapOpening(translation(8, 8.01), turned), angleDeg }, LASERS[0]);
      expect(verdict.pieces.dots).toBe(1);
      // A third of a dot; where the kerf is wider, which is listed, no more than a dot or two.
      expect(verdict.missingMm2).toBeLessThan(verdict.listed ? 1e-3 : 2e-4);
      // At 117 degrees the kerf is wider than the arm, which is listed; a line one dot wide is the least there is.
      const most = verdict.listed ? 1.25 : 0.75;
      expect(verdict.listed).toBe(angleDeg === 117);
      for (const i of [0, 1]) expect(Math.abs(verdict.byDots[i] - verdict.asked[i])).toBeLessThan(most * 0.0254);
    }
  });

  it('an obround hardly wider than the kerf comes out at its length', () => {
    const asked = mapOpening(translation(8, 8), solid(rounded(0.2, 1.4, 0.1, 24)));
    const verdict = judge({ kind: 'obround', asked, angleDeg: 0 }, LASERS[1]);
    for (const i of [0, 1]) expect(Math.abs(verdict.byDots[i] - verdict.asked[i])).toBeLessThan(0.75 * 0.0254);
  });

  it('random shapes whose limbs are wider than the kerf: none listed, none torn, none short', () => {
    const random = seeded(11);
    for (let i = 0; i < 3 * BLUNT.length; i += 1) {
      const laser = LASERS[i % LASERS.length];
      const limb = Math.max(laser.model.kerfXMm, laser.model.kerfYMm) * (1.25 + random());
      const shape = shapeOf(BLUNT[i % BLUNT.length], random, limb);
      const verdict = judge(shape, laser);
      const off = [0, 1].map((k) => verdict.byDots[k] - verdict.asked[k]);
      const dot = Math.max(laser.pitch.x, laser.pitch.y);
      const found = { shape: shape.kind, listed: verdict.listed, pieces: verdict.pieces.dots };
      expect(found).toEqual({ shape: shape.kind, listed: false, pieces: verdict.pieces.asked });
      expect(verdict.missingMm2).toBeLessThan(3e-3);
      for (const error of off) expect(Math.abs(error)).toBeLessThan(1.25 * dot);
    }
  });
});
