import { describe, expect, it } from 'vitest';
import type { DimensionalFeature } from '../../../src/coupon/features.js';
import { fitSessions } from '../../../src/fit/calibration/fit-sessions.js';
import { PARAMETER_NAMES, type ReadingSession } from '../../../src/machine/types.js';
import type { Reading } from '../../../src/readings/types.js';
import { gaussian, seeded } from '../../virtual-laser/random.js';
import { benchFeatures, randomMachine, readAll, readFilm, trueLength } from './virtual-bench.js';

const spans = benchFeatures().filter(({ kind }) => kind === 'span');
const widths = benchFeatures().filter(({ kind }) => kind !== 'span');
const [X, Y] = [0, 1].map((axis) => spans.filter(({ from, to }) => from[1 - axis] === to[1 - axis]));
const slanted = spans.filter(({ from, to }) => from[0] !== to[0] && from[1] !== to[1]);

describe('a gauge whose zero the readings hardly show', () => {
  // Long spans, and short ones along X only: as the first readings of a plan are.
  const features = [...X.filter((_, i) => i % 4 === 0 || i % 4 === 3), ...Y.filter((_, i) => i % 4 === 0)];
  const all = [...features, ...slanted.slice(0, 2), ...widths.filter((_, i) => i % 3 === 0)];

  it.each([0, 0.02])('leaves the scales as sure as they are right: off by %s mm', (zeroMm) => {
    const held = [0, 0];
    const seeds = 20;
    for (let seed = 1; seed <= seeds; seed += 1) {
      const random = seeded(seed);
      const machine = randomMachine(random);
      const gauge = { noiseMm: 0.008, resolutionMm: 0.01, zeroMm: seed % 2 ? zeroMm : -zeroMm };
      const { fit, gauges } = fitSessions([{ coupon: 'bench', features: all, readings: readFilm(all, machine, random, () => gauge) }]); // biome-ignore format: one call
      expect(gauges[0].zeroWithinMm ?? 0.02).toBe(0.02);
      for (const k of [0, 1]) {
        const [low, high] = fit[PARAMETER_NAMES[k]].interval95 ?? [0, 0];
        if (low <= machine[k] && machine[k] <= high) held[k] += 1;
        expect(high - low).toBeLessThan(1e-3);
      }
    }
    for (const count of held) expect(count).toBeGreaterThanOrEqual(0.85 * seeds);
  });
});

it('is told where a gauge read one length only, as what it reads there: its zero, or how fast it runs', () => {
  const short = Y.filter((_, i) => i % 4 === 2);
  const features = [...X, ...slanted, ...short, ...widths.filter((_, i) => i % 3 === 0)];
  const gauge = (one: DimensionalFeature) => ({ noiseMm: 0.002, resolutionMm: 0.001, ...(short.includes(one) ? { fast: 0.001, name: 'rule' } : {}) }); // biome-ignore format: one record
  const readings = readFilm(features, [1.003, 0.998, 0.002, 0.08, 0.08], seeded(7), gauge);
  const { gauges, warnings } = fitSessions([{ coupon: 'bench', features, readings }]);
  expect(gauges.map(({ name, oneLengthMm }) => [name, oneLengthMm])).toContainEqual(['rule', expect.closeTo(29.97, 1)]);
  expect(warnings.map(({ message, hint }) => `${message} ${hint}`)).toEqual([
    expect.stringMatching(
      /^rule reads (2[4-9]|3[0-6])\.\d ± \d+\.\d µm too much at 30\.0 mm, the one length read with it .*Its zero may be off, or its lengths/,
    ),
  ]);
});

describe('a film scanned in one direction only', () => {
  const along = ({ from, to }: DimensionalFeature): string =>
    from[1] === to[1] ? 'X' : from[0] === to[0] ? 'Y' : 'slanted';
  const LIMITS = { X: 0.05, Y: 1.1, slanted: 0.5 };

  /** What a scanner shows that stretches lengths along its Y and leans: all lengths, widths as well. */
  function scanned(left: (feature: DimensionalFeature) => boolean): ReadingSession {
    const [stretch, lean] = [1.005, 0.003];
    const [sx, sy, shear, kx, ky] = [1.003, 0.998, 0.002, 0.08, 0.08];
    const features = benchFeatures().filter((one, i) => left(one) && (one.kind === 'span' || i % 4 === 0));
    const seen = readAll(features, [sx, sy * stretch, shear + lean, kx, ky], seeded(4), () => ({
      noiseMm: 0.0006,
      resolutionMm: 0,
    }));
    const readings = seen.map((reading, i): Reading => {
      const { kind } = features[i];
      return {
        ...reading,
        uncertaintyMm: 0.0006,
        gauge: kind === 'span' ? `scanner spans ${along(features[i])}` : `scanner ${kind}s`,
      };
    });
    const ofSpans = Object.fromEntries(Object.entries(LIMITS).map(([name, mm]) => [`scanner spans ${name}`, mm]));
    return {
      coupon: 'bench',
      features,
      readings,
      gaugeLimitsMm: { ...ofSpans, 'scanner openings': 0.02, 'scanner webs': 0.02 },
    };
  }

  it.each([
    ['all spans', () => true],
    ['no span along X', (one: DimensionalFeature) => one.kind !== 'span' || along(one) !== 'X'],
    ['no span along Y', (one: DimensionalFeature) => one.kind !== 'span' || along(one) !== 'Y'],
  ])('keeps the limits of its scales and of its right angle in full: %s', (_, left) => {
    const { scaleY, shear } = fitSessions([scanned(left)]).fit;
    const half = ({ interval95: [low, high] = [0, 0] }: typeof scaleY): number => (high - low) / 2;
    // A limit on the longest span, as half of a uniform distribution's 95 %.
    expect(half(scaleY)).toBeGreaterThan(Math.min(LIMITS.Y / 90, (2 * LIMITS.slanted) / 120) * 0.95);
    expect(half(shear)).toBeGreaterThan((LIMITS.slanted / 120) * 0.95);
    expect(Math.abs(scaleY.value - 0.998)).toBeLessThan(half(scaleY));
    expect(Math.abs(shear.value - 0.002)).toBeLessThan(half(shear));
  });
});

it('of a scanner, whose scale is told anew with each scan, is no slip in a few readings of a later one', () => {
  const random = seeded(21);
  const features = benchFeatures().filter(({ kind }) => kind === 'span');
  const scanned = (some: typeof features, scale: number): Reading[] =>
    some.map((feature) => {
      const readingMm =
        trueLength(feature, [1.002, 0.998, 0.001, 0.14, 0.12]) * (1 + scale) + 0.0015 * gaussian(random);
      return { feature: feature.id, readingMm, uncertaintyMm: 0.0015, gauge: 'scanner spans' };
    });
  const session = (date: string, some: typeof features, scale: number) => ({
    ...{ coupon: 'bench', date, features, gaugeLimitsMm: { 'scanner spans': 0.03 } },
    readings: scanned(some, scale),
  });
  const sessions = [session('2031-01-01', features, -1e-4), session('2031-02-01', features.slice(0, 9), 1e-4)];
  const { flagged, faults, fit } = fitSessions(sessions);
  expect(flagged).toEqual([]);
  expect(faults.filter(({ found }) => found)).toEqual([]);
  const [low, high] = fit.scaleX.interval95!;
  expect(low).toBeLessThan(1.002);
  expect(high).toBeGreaterThan(1.002);
});

it('comes to rest on one scan of a scanner that is far off along Y', () => {
  // Y and its gauge's error lie in a valley that bends: of forty seeds seven ended in NOT_CONVERGED, these among them.
  const features = [...spans, ...widths];
  const gaugeOf = (one: DimensionalFeature): string =>
    one.kind === 'span'
      ? `scanner spans ${X.includes(one) ? 'X' : Y.includes(one) ? 'Y' : 'slanted'}`
      : `scanner ${one.kind}s`;
  const gaugeLimitsMm = { 'scanner spans X': 0.02, 'scanner spans Y': 0.7, 'scanner spans slanted': 0.4, 'scanner openings': 0.016, 'scanner webs': 0.004 }; // biome-ignore format: one thought
  for (const seed of [4, 28]) {
    const random = seeded(seed);
    const machine = randomMachine(random);
    const readings = readFilm(features, machine, random, () => ({ noiseMm: 5e-4, resolutionMm: 1e-5 })).map(
      (one, i) => {
        const { kind, from, to, nominalMm } = features[i];
        const off = kind === 'span' ? 1 + 0.006 * ((to[1] - from[1]) / nominalMm) ** 2 : 1;
        return { ...one, readingMm: one.readingMm! * off, gauge: gaugeOf(features[i]), uncertaintyMm: 5e-4 };
      },
    );
    const { fit } = fitSessions([{ coupon: 'bench', features, readings, gaugeLimitsMm }]);
    expect(fit.scaleX.value).toBeCloseTo(machine[0], 3);
    expect(Math.abs(fit.scaleY.value / machine[1] - 1)).toBeLessThan(0.008);
    expect(fit.scaleY.stdUncertainty).toBeGreaterThan(0.003);
  }
});
