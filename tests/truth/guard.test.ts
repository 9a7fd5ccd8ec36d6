import { describe, expect, it } from 'vitest';
import { seeded } from '../virtual-laser/random.js';
import { isListedFalsely, isUnlisted, judgeGuard, randomBoard } from './guard-judge.js';
import { LASERS } from './laser.js';

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
