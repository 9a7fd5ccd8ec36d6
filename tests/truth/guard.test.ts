import { describe, expect, it } from 'vitest';
import { mapOpening, rotation, translation } from '../../src/geometry/affine.js';
import { solid } from '../../src/geometry/shapes.js';
import { box } from '../export/boards.js';
import { seeded } from '../virtual-laser/random.js';
import { isListedFalsely, isUnlisted, judgeGuard, randomBoard } from './guard-judge.js';
import { LASERS, MACHINES } from './laser.js';
import { KINDS } from './shapes.js';

describe('what the guard lists, against clipper2-wasm (Clipper2 by Angus Johnson)', () => {
  it.each(LASERS.map((laser, i) => [i + 1, laser] as const))(
    'lists what is wrong and nothing else: machine %i',
    (n, laser) => {
      const verdicts = judgeGuard(randomBoard(seeded(40 + n), 16, laser), laser);
      expect(verdicts.filter(isListedFalsely)).toEqual([]);
      expect(verdicts.filter(isUnlisted)).toEqual([]);
      expect(verdicts.filter(({ right }) => right).length).toBeGreaterThan(3);
    },
  );

  it.each([
    // Its dots lack next to nothing of what the beam can cut, and that lacks its corners.
    ['area of a slanted pad, its corners counting', 'area', solid(box(0.2309, 0.7052)), 315, 1],
    // Along its own walls it is right; it lies askew in the smallest box around it.
    ['size of a thermal over the box around it', 'size', KINDS.thermal(seeded(276106361), 0.23401344152837383), 135, 3],
  ] as const)('lists the %s', (_, what, region, angleDeg, machine) => {
    const opening = mapOpening(translation(8, 8), mapOpening(rotation(angleDeg), region));
    const [verdict] = judgeGuard([{ kind: what, opening, angleDeg }], MACHINES[machine]);
    expect(verdict.wrong).toEqual([what]);
    expect(verdict.faults).toEqual([what]);
  });

  it('lists a limb whose missing tip is next to nothing in the command, and more than a dot in the cut', () => {
    const random = seeded(21);
    randomBoard(random, 36, LASERS[0]);
    const pad = randomBoard(random, 36, LASERS[1])[25];
    const [verdict] = judgeGuard([pad], LASERS[1], ([, ...rows]) => [[], ...rows]);
    expect(verdict.wrong).toEqual(['limb']);
    expect(verdict.faults).toEqual(['part missing']);
  });

  it('lists what a spoilt image leaves out', () => {
    const laser = LASERS[0];
    const pads = randomBoard(seeded(3), 12, laser);
    const spoilt = judgeGuard(pads, laser, (stamp, k) =>
      k % 2 === 0 ? stamp.map((row, r) => (r % 12 < 6 ? row : [])) : stamp,
    );
    expect(spoilt.filter(({ wrong }) => wrong.length > 0).length).toBeGreaterThan(4);
    expect(spoilt.filter(isUnlisted)).toEqual([]);
  });
});
