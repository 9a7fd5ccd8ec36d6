import { readFileSync } from 'node:fs';
import { describe, expect, it } from 'vitest';
import { fitCalibration } from '../../../src/fit/calibration/fit-sessions.js';
import { lackOfFit } from '../../../src/fit/calibration/repeats.js';
import { leastSquares } from '../../../src/fit/linear/least-squares.js';
import { gaussian, seeded } from '../../virtual-laser/random.js';
import { benchFeatures, readAll } from './virtual-bench.js';

interface LineWidth {
  calibration: { data: [number, number][] };
  computed: { lackOfFitF: string; lackOfFitDf: [number, number]; pureErrorSs: string };
}
const { calibration, computed } = JSON.parse(
  readFileSync(new URL('../published/nist-linewidth.json', import.meta.url), 'utf8'),
) as LineWidth;

describe('lackOfFit', () => {
  it('tells pure error and lack of fit apart in the line-width calibration of the NIST/SEMATECH e-Handbook, 2.3.6.7.2', () => {
    // Ten standards, read four times each. F = 0.6918 was computed from these data in 120-digit arithmetic.
    const fit = leastSquares(
      calibration.data.map(([x]) => [1, x]),
      calibration.data.map(([, y]) => y),
    );
    const groups = calibration.data.map(([x]) => x);
    const result = lackOfFit(fit.residuals, groups, 2);
    expect(result?.f).toBeCloseTo(Number(computed.lackOfFitF), 10);
    expect([result?.lackOfFitDof, result?.pureErrorDof]).toEqual(computed.lackOfFitDf);
    expect((result?.pureErrorSd ?? 0) ** 2 * 30).toBeCloseTo(Number(computed.pureErrorSs), 10);
    expect(result?.sentence).toMatch(/no more than repeat readings scatter/);
  });

  it('finds the bend that a straight line leaves over', () => {
    const x = [1, 1, 2, 2, 3, 3, 4, 4, 5, 5];
    const y = x.map((v, i) => v * v + (i % 2 === 0 ? 0.05 : -0.05));
    const fit = leastSquares(
      x.map((v) => [1, v]),
      y,
    );
    expect(lackOfFit(fit.residuals, x, 2)?.p).toBeLessThan(1e-6);
  });

  it('says nothing when nothing was read twice', () => {
    expect(lackOfFit([0.1, -0.1, 0.2], ['a', 'b', 'c'], 1)).toBeUndefined();
  });
});

it('features that count as one reading each have a zero taken out of every reading of theirs', () => {
  const random = seeded(3);
  const features = benchFeatures();
  const once = readAll(features, [1.002, 0.998, 0.003, 0.14, 0.12], random, () => ({ noiseMm: 0.02, resolutionMm: 0 }));
  const zeroMm = 0.1;
  const readings = [0, 1].flatMap(() =>
    once.map((one) => ({ ...one, readingMm: one.readingMm + zeroMm + 0.0005 * gaussian(random) })),
  );
  const { warnings, residuals } = fitCalibration(readings, features);
  expect(warnings.map(({ code }) => code)).toContain('LACK_OF_FIT');
  const [first, again] = [residuals.slice(0, features.length), residuals.slice(features.length)];
  first.forEach(({ feature, predictedMm }, i) => {
    expect(again[i]).toMatchObject({ feature });
    expect(again[i].predictedMm).toBeCloseTo(predictedMm, 9);
  });
});
