import { expect, it } from 'vitest';
import { cases } from '../cases.js';
import { judgeRandomStencil } from './random-stencil.js';

/** `CASES_TIMES=20 npx vitest run tests/scan/random-stencil` for many. */
it('finds all planted faults of random stencils, and invents none', async () => {
  for (let seed = 1; seed <= cases(1); seed += 1) {
    const { of, wrong } = await judgeRandomStencil(seed);
    expect({ seed, of, wrong }).toEqual({ seed, of, wrong: [] });
  }
}, 600_000);

it('finds those of stencils with few openings, too', async () => {
  for (let seed = 1; seed <= cases(3); seed += 1) {
    const { of, wrong } = await judgeRandomStencil(seed, 7);
    expect({ seed, of, wrong }).toEqual({ seed, of, wrong: [] });
  }
}, 600_000);
