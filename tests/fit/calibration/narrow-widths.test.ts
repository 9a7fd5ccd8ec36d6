import { beforeAll, describe, expect, it } from 'vitest';
import { startParameters } from '../../../src/fit/calibration/design.js';
import { determinedBy } from '../../../src/fit/calibration/determined.js';
import { fitSessions } from '../../../src/fit/calibration/fit-sessions.js';
import { gaugesOf } from '../../../src/fit/calibration/gauges.js';
import { withoutNarrow } from '../../../src/fit/calibration/narrow-widths.js';
import { gatherObservations } from '../../../src/fit/calibration/observations.js';
import { weightedFit } from '../../../src/fit/calibration/weighted-fit.js';
import type { ReadingSession } from '../../../src/machine/types.js';
import { sheets } from '../../bench/truth-fit.js';
import { seeded } from '../../virtual-laser/random.js';
import { type Gauge, type Machine, readFilm } from './virtual-bench.js';

let all: Awaited<ReturnType<typeof sheets>>;
beforeAll(async () => {
  all = await sheets();
});

/** Long spans, and webs. */
const some = (): typeof all =>
  all.map(({ coupon, features }) => ({
    coupon,
    features: features.filter(({ kind, nominalMm: mm }) => (kind === 'span' ? mm > 85 : kind === 'web' && mm < 1)), // biome-ignore format: one thought
  }));

/** Spans to 0.01 mm, widths by a loupe with steps of 0.1 mm: some webs read nothing, others a whole step. */
const loupe: Gauge = { noiseMm: 0.03, resolutionMm: 0.1 };
const readBy = (machine: Machine, random: () => number, ofWidths = loupe): ReadingSession[] =>
  some().map(({ coupon, features }) => ({
    coupon,
    features,
    readings: readFilm(features, machine, random, ({ kind }) =>
      kind === 'span' ? { noiseMm: 0.005, resolutionMm: 0.01 } : ofWidths,
    ),
  }));

describe('widths that read next to nothing', () => {
  it('do not make the kerf too small by those that read nothing at all', () => {
    const random = seeded(4);
    const sets = 60;
    const [x, y] = [0, 0].map(() => ({ sum: 0, squares: 0 }));
    for (let c = 0; c < sets; c += 1) {
      const machine: Machine = [1, 1, 0, 0.13 + 0.03 * random(), 0.13 + 0.03 * random()];
      const sessions = readBy(machine, random);
      const { lengths } = gatherObservations(sessions);
      const start = startParameters(lengths);
      const { counted } = withoutNarrow(lengths);
      const fit = weightedFit(determinedBy(counted, gaugesOf(counted, sessions, undefined), start).design, start);
      for (const [k, one] of [
        [3, x],
        [4, y],
      ] as const) {
        const error = fit.parameters[k] - machine[k];
        one.sum += error;
        one.squares += error * error;
      }
    }
    // All counted, they came out 9 µm too small here, four standard deviations of such a mean.
    for (const { sum, squares } of [x, y]) expect(Math.abs(sum / sets)).toBeLessThan((3 * Math.sqrt(squares)) / sets);
  });

  it('are named, and a slip among them still stands out', () => {
    const [ruler, ladder] = readBy([1, 1, 0, 0.15, 0.14], seeded(5), {
      noiseMm: 0.005,
      resolutionMm: 0.01,
    });
    const slipped = ladder.readings.map((one) => (one.feature === 'LB1' ? { ...one, outcome: undefined, readingMm: 0.15, resolutionMm: 0.01 } : one)); // biome-ignore format: one thought
    const { warnings, residuals, flagged } = fitSessions([ruler, { ...ladder, readings: slipped }]);
    const told = warnings.find(({ code }) => code === 'TOO_NARROW_TO_COUNT');
    expect(told?.message).toMatch(/read as less than 0\.02 mm, about/);
    expect(flagged.map(({ feature }) => feature)).toEqual(['LB1']);
    const webs = residuals.filter(({ kind, nominalMm }) => kind === 'web' && nominalMm < 0.153);
    expect(webs.map(({ feature }) => feature)).toEqual(['LB1']);
  });

  it('count where an axis has no wider ones', () => {
    const random = seeded(6);
    const [ruler, ladder] = readBy([1, 1, 0, 0.15, 0.15], random);
    const narrowX = ladder.readings.filter(({ feature }) => /^L[BD]3/.test(feature));
    const { warnings, parameters } = fitSessions([ruler, { ...ladder, readings: narrowX.map((one) => ({ feature: one.feature, readingMm: 0.1, resolutionMm: 0.1 })) }]); // biome-ignore format: one thought
    expect(warnings.map(({ code }) => code)).not.toContain('TOO_NARROW_TO_COUNT');
    expect(parameters.map(({ assumed }) => assumed)).toEqual([false, false, false, false, false]);
  });
});
