import { describe, expect, it } from 'vitest';
import { fitCalibration } from '../../../src/fit/calibration/fit-sessions.js';
import { logWithin } from '../../../src/fit/statistics/distributions.js';
import { sampleEnsemble } from '../../../src/fit/statistics/ensemble-sampler.js';
import { seeded } from '../../virtual-laser/random.js';
import { benchFeatures, type Machine, randomMachine, readAll } from './virtual-bench.js';

const features = benchFeatures();
const coarse = (kind: string) => ({ noiseMm: 0.005, resolutionMm: kind === 'span' ? 0.01 : 0.05 });

describe('readings of a gauge whose step is far above its scatter', () => {
  it('are taken as lying somewhere in their step: the kerf comes out to a tenth of the step', () => {
    const random = seeded(61);
    let inside = 0;
    let worst = 0;
    for (let m = 0; m < 4; m += 1) {
      const machine = randomMachine(random);
      const { fit } = fitCalibration(readAll(features, machine, random, coarse), features);
      for (const [kerf, k] of [
        [fit.kerfXMm, 3],
        [fit.kerfYMm, 4],
      ] as const) {
        worst = Math.max(worst, Math.abs(kerf.value - machine[k]));
        if ((kerf.interval95?.[0] ?? 0) <= machine[k] && machine[k] <= (kerf.interval95?.[1] ?? 0)) inside += 1;
      }
    }
    expect(worst).toBeLessThan(0.008);
    expect(inside).toBeGreaterThanOrEqual(6);
  });

  it('are so where the step is the pitch, and all widths of an axis are rounded alike', () => {
    // Half of those across Y are rounded up and half down: the weighted fit took that for scatter, and X for sure.
    const machine: Machine = [1.003, 0.998, -0.004, 0.165, 0.1755];
    const snap = (mm: number): number => Math.round(mm / 0.05) * 0.05;
    const snapped = features.map(({ from: [x, y], to: [u, v], ...rest }) => {
      const [from, to]: [number, number][] = [[snap(x), snap(y)], [snap(u), snap(v)]]; // biome-ignore format: one thought
      return { ...rest, from, to, nominalMm: Math.hypot(to[0] - from[0], to[1] - from[1]) };
    });
    for (const seed of [69, 71, 72]) {
      const readings = readAll(snapped, machine, seeded(seed), () => ({ noiseMm: 0.007, resolutionMm: 0.05 })).filter(({ readingMm }) => readingMm > 0.01); // biome-ignore format: one call
      const [low, high] = fitCalibration(readings, snapped).fit.kerfXMm.interval95 ?? [];
      expect(low).toBeLessThan(0.165);
      expect(high).toBeGreaterThan(0.165);
    }
  });

  it('give the same answer every time', () => {
    const readings = readAll(features, [1, 1, 0, 0.14, 0.12], seeded(62), coarse);
    expect(fitCalibration(readings, features).fit).toEqual(fitCalibration(readings, features).fit);
  });

  it('are fitted exactly when they are not rounded at all', () => {
    const machine: Machine = [1, 1, 0, 0.15, 0.1];
    const readings = readAll(features, machine, seeded(63), () => ({ noiseMm: 0, resolutionMm: 0 })).map((r) => ({
      ...r,
      resolutionMm: 0.05,
    }));
    expect(fitCalibration(readings, features).fit.kerfXMm.value).toBeCloseTo(0.15, 9);
  });
});

describe('logWithin', () => {
  // Standard normal tables: P(0 < Z < 1) = 0.3413447461, P(Z > 3) = 0.001349898032, P(Z > 6) = 9.865876450e-10.
  const cases: [low: number, high: number, p: number][] = [
    [0, 1, 0.3413447461],
    [-1, 1, 0.6826894921],
    [3, 60, 0.001349898032],
    [-60, -6, 9.86587645e-10],
    [-2, 50, 0.977249868],
  ];
  const log = (low: number, high: number): number =>
    logWithin(Float64Array.of((low + high) / 2), [0], (high - low) / 2, 1);

  it.each(cases)('between %d and %d agrees to four digits', (low, high, p) => {
    expect(Math.exp(log(low, high)) / p).toBeCloseTo(1, 4);
  });

  it('of many values is the sum of their logarithms, also where the product is below the smallest number', () => {
    const off = Float64Array.from({ length: 400 }, (_, i) => 0.04 * i - 8);
    const members = [...off.keys()];
    const each = members.reduce((sum, i) => sum + logWithin(off, [i], 0.5, 1), 0);
    expect(logWithin(off, members, 0.5, 1) / each).toBeCloseTo(1, 12);
    expect(each).toBeLessThan(-745);
  });

  it('falls on and on far out, where the chance itself is nothing', () => {
    const far = [20, 30, 35, 36, 40, 100, 1000].map((low) => log(low, low + 1));
    for (const [i, value] of far.entries()) if (i > 0) expect(value).toBeLessThan(far[i - 1]);
    // ln P(Z > 30) = -454.3212, by the continued fraction of Abramowitz and Stegun 26.2.14.
    expect(far[1]).toBeCloseTo(-454.3212, 2);
  });
});

describe('sampleEnsemble', () => {
  it('draws a correlated normal distribution with its mean, spread and correlation', () => {
    const random = seeded(64);
    // Standard deviations 1 and 0.01, correlation 0.9: scales that a plain random walk would have to be told.
    const logDensity = ([x, y]: Float64Array): number => {
      const [a, b] = [x - 5, (y - 2) / 0.01];
      return -(a * a - 1.8 * a * b + b * b) / (2 * (1 - 0.81));
    };
    const walkers = Array.from({ length: 20 }, () => Float64Array.from([5 + random(), 2 + 0.01 * random()]));
    const [xs, ys] = sampleEnsemble(logDensity, walkers, { burnIn: 500, kept: 2000 }, random);
    const mean = (f: (x: number, y: number) => number): number =>
      xs.reduce((sum, x, i) => sum + f(x, ys[i]), 0) / xs.length;
    const [mx, my] = [mean((x) => x), mean((_, y) => y)];
    expect(mx).toBeCloseTo(5, 0);
    expect(Math.abs(my - 2)).toBeLessThan(0.001);
    const [sx, sy] = [Math.sqrt(mean((x) => (x - mx) ** 2)), Math.sqrt(mean((_, y) => (y - my) ** 2))];
    expect(sx).toBeCloseTo(1, 1);
    expect(sy * 100).toBeCloseTo(1, 1);
    expect(mean((x, y) => (x - mx) * (y - my)) / sx / sy).toBeCloseTo(0.9, 1);
  });
});
