import { describe, expect, it } from 'vitest';
import type { DimensionalFeature } from '../../../src/coupon/features.js';
import { fitSessions } from '../../../src/fit/calibration/fit-sessions.js';
import { lackOfFit } from '../../../src/fit/calibration/repeats.js';
import type { Reading } from '../../../src/readings/types.js';
import { gaussian, seeded } from '../../virtual-laser/random.js';
import { benchFeatures, type Machine, randomMachine, readFilm } from './virtual-bench.js';

const fitted = (features: readonly DimensionalFeature[], readings: readonly Reading[]) =>
  fitSessions([{ coupon: 'bench', features, readings }]);

it('shows a scanner faults of the kerf that a stencil shows, and none below', () => {
  const told = (byMm: number): string[] => {
    const kerf = (_: number, __: number, { kind, nominalMm }: DimensionalFeature): number =>
      kind === 'opening' && nominalMm < 0.32 ? -byMm : 0;
    // Tenths of a micrometre, as a scan measures them.
    const features = benchFeatures();
    const read = readFilm(features, [1.003, 0.997, 0.002, 0.11, 0.09], seeded(4), () => ({ noiseMm: 0.0003, resolutionMm: 1e-5 }), { kerf }); // biome-ignore format: one call
    return fitted(features, read).warnings.flatMap(({ code }) => (code.startsWith('KERF_BY') ? [code] : []));
  };
  expect(told(0.002)).toEqual([]);
  expect(told(0.006)).toEqual(['KERF_BY_SIZE']);
});

describe('readings by a steady hand and a coarse gauge, equal number by number', () => {
  it('are fitted where two slanted spans alone tell shear and disagree with each other', () => {
    const machine: Machine = [1.004, 0.985, 0.003, 0.18, 0.05];
    const all = benchFeatures();
    const straight = all.filter(({ kind, from, to }) => kind === 'span' && (from[0] === to[0] || from[1] === to[1]));
    const slanted = all.filter(({ kind, from, to }) => kind === 'span' && from[0] !== to[0] && from[1] !== to[1]);
    const widths = all.filter(({ kind }) => kind !== 'span').slice(0, 14);
    const features = [...straight.slice(0, 8), ...straight.slice(12, 20), ...slanted.slice(0, 2), ...widths];
    const readings = readFilm(features, machine, seeded(1), () => ({ noiseMm: 0, resolutionMm: 0.01 })).map((one) => {
      const at = slanted.findIndex(({ id }) => id === one.feature);
      return at < 0 ? one : { ...one, readingMm: one.readingMm! + (at === 0 ? 0.06 : 0.05) };
    });
    const { fit: found, flagged } = fitted(features, readings);
    expect(flagged).toEqual([]);
    expect(found.scaleX.value).toBeCloseTo(1.004, 3);
    expect(found.scaleY.value).toBeCloseTo(0.985, 3);
  });

  it('contradict nothing where one of three differs by no more than a careful hand does', () => {
    const features = benchFeatures();
    const [first] = features;
    const thrice = (...readings: number[]) =>
      fitted(features, readings.map((readingMm) => ({ feature: first.id, readingMm, resolutionMm: 0.01 }))); // biome-ignore format: one call
    const honest = thrice(140.02, 140.02, 140.04);
    expect([honest.undecided, honest.warnings.map(({ code }) => code)]).toEqual([false, expect.arrayContaining(['FEW_READINGS'])]); // biome-ignore format: one thought
    expect(thrice(140.02, 140.02, 140.12).undecided).toBe(true);
  });

  it('count once where rows were copied or all repeats were rounded to the same, and that is said', () => {
    const random = seeded(1);
    const features = benchFeatures().filter((_, i) => i % 3 === 0);
    const gauge = () => ({ noiseMm: 0.004, resolutionMm: 0.01 });
    const machine = randomMachine(random);
    const once = readFilm(features, machine, random, gauge);
    const alone = fitted(features, once);
    const twice = fitted(features, [...once, ...once]);
    expect(twice.fit).toEqual({ ...alone.fit, warnings: twice.fit.warnings });
    const copied = twice.warnings.filter(({ code }) => code === 'READINGS_COPIED').map(({ message }) => message);
    expect(copied).toEqual([
      expect.stringMatching(
        /^11 readings of bench spans repeat the first ones of the same features to the last digit: each counts once\.$/,
      ),
      expect.stringMatching(/^\d+ readings of bench widths repeat /),
    ]);
    expect(twice.warnings.length).toBe(alone.warnings.length + 2);
    const anew = fitted(features, [...once, ...readFilm(features, machine, random, gauge)]);
    expect([anew.warnings, anew.residuals.length]).toEqual([[], 2 * alone.residuals.length]);
  });

  it('have a pure error of step/sqrt 12 at least (GUM, JCGM 100:2008, F.2.2.1)', () => {
    const random = seeded(3);
    const residuals = Array.from({ length: 20 }, () => gaussian(random) / Math.sqrt(12)).flatMap((one) => [one, one]);
    const groups = residuals.map((_, i) => Math.floor(i / 2));
    const result = lackOfFit(residuals, groups, 5, undefined, new Array(40).fill(1 / 12));
    expect(result?.pureErrorSd).toBeCloseTo(1 / Math.sqrt(12), 12);
    expect(result?.p).toBeGreaterThan(0.01);
  });
});
