import { expect, it } from 'vitest';
import { mapOpening, rotation, translation } from '../../src/geometry/affine.js';
import { solid } from '../../src/geometry/shapes.js';
import type { Opening } from '../../src/geometry/types.js';
import { correctOpenings } from '../../src/machine/correct-openings.js';
import { makeStencil } from '../../src/stencil/make-stencil.js';
import { box, rounded } from '../export/boards.js';
import { cutOfDots, dotsFor, LASERS, type Laser, opened, pathsOf } from '../truth/laser.js';
import { area, extents } from '../truth/polygons.js';
import { seeded } from '../virtual-laser/random.js';

const [FINE, , , COARSE] = LASERS;

/** Errors of both widths in dots and of the area in percent, by the polygon library. */
function errorsOf(asked: Opening, angleDeg: number, laser: Laser) {
  const { openings } = correctOpenings([asked], laser.model, { lineMm: laser.pitch });
  const { placed, heightPx } = dotsFor(openings, laser, 10);
  const cut = cutOfDots(placed, heightPx, laser);
  const [got, want] = [extents(cut, angleDeg), extents(pathsOf([asked]), angleDeg)];
  const most = area(opened(pathsOf([asked]), laser.model));
  return {
    widths: [0, 1].map((k) => (got[k] - want[k]) / laser.pitch.x),
    percent: (100 * (area(cut) - most)) / most,
  };
}

function pads(laser: Laser, count: number) {
  const random = seeded(5);
  return Array.from({ length: count }, (_, k) => {
    const [width, angleDeg] = [0.35 + 0.5 * random(), 3 + 84 * random()];
    const long = width * (1.2 + 1.5 * random());
    const ring = k % 2 === 0 ? box(width, long) : rounded(width, long, width / 4);
    const asked = mapOpening(translation(5, 5), mapOpening(rotation(angleDeg), solid(ring)));
    return errorsOf(asked, angleDeg, laser);
  });
}

const mean = (values: readonly number[]): number => values.reduce((a, b) => a + b, 0) / values.length;

it.each([
  ['fine', FINE, 0.1, 3],
  ['coarse', COARSE, 0.25, 4],
] as const)(
  'slanted pads in %s dots: widths are right on the mean, and no area is off by more than 5.2 %',
  (_, laser, bias, less) => {
    const found = pads(laser, 16);
    const widths = found.flatMap((pad) => pad.widths);
    expect(Math.abs(mean(widths))).toBeLessThan(bias);
    for (const width of widths) expect(Math.abs(width)).toBeLessThan(0.7);
    // Film stays between the tips of a wall, however its dots are chosen.
    expect(mean(found.map(({ percent }) => percent))).toBeGreaterThan(-less);
    for (const { percent } of found) expect(Math.abs(percent)).toBeLessThan(5.2);
  },
);

it('no corner of a slanted pad lies farther than a dot from its dots, where a dot more costs no width', () => {
  const random = seeded(8);
  const openings = Array.from({ length: 60 }, (_, k) => {
    const [width, height, angleDeg] = [0.4 + 1.6 * random(), 0.4 + 1.6 * random(), 1 + 358 * random()];
    const at = translation(3 * (k % 10) + 3, 3 * Math.floor(k / 10) + 3);
    const ring = k % 2 === 0 ? box(width, height) : rounded(width, height, 0.06);
    return mapOpening(at, mapOpening(rotation(angleDeg), solid(ring)));
  });
  const { check } = makeStencil({ openings }, FINE.model, { pitchMm: FINE.pitch });
  expect(check.faults.filter(({ what }) => what.includes('part missing'))).toEqual([]);
});
