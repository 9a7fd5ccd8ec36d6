import { beforeAll, describe, expect, it } from 'vitest';
import type { DimensionalFeature } from '../../../src/coupon/features.js';
import { generateCoupon } from '../../../src/coupon/generate.js';
import type { Coupon } from '../../../src/coupon/types.js';
import { fitSessions } from '../../../src/fit/calibration/fit-sessions.js';
import { outlookOf } from '../../../src/fit/plan/outlook.js';
import { couponOrder, likelyWider, missingIn } from '../../../src/fit/plan/plan-words.js';
import type { Reading } from '../../../src/readings/types.js';
import { seeded } from '../../virtual-laser/random.js';
import { randomMachine, readFilm } from '../calibration/virtual-bench.js';

const GAUGES = [
  { name: 'caliper', takes: 'windows', stepMm: 0.02, noiseMm: 0.01, zeroMm: 0.01 },
  { name: 'loupe', takes: 'edges', stepMm: 0.01, noiseMm: 0.005, zeroMm: 0.005 },
  // A caliper in inches.
  { name: 'caliper', takes: 'windows', stepMm: 0.0127, noiseMm: 0.006, zeroMm: 0.01 },
] as const;

let ruler: Coupon;
beforeAll(async () => {
  ruler = await generateCoupon('scale-ruler', { widthMm: 150, heightMm: 100, pitchXMm: 0.0508 });
});

describe('what is promised of further readings', () => {
  it.each(GAUGES)('holds on the mean with a $name of $stepMm mm, from the first ones on', (gauge) => {
    const { features, canvas } = ruler.features;
    const order = couponOrder(ruler, gauge)!.features.filter((one): one is DimensionalFeature => 'from' in one);
    const reachedBy: number[] = [];
    const lastOnes: number[] = [];
    for (const seed of [1, 2, 3]) {
      const random = seeded(1000 + seed);
      const zeroMm = gauge.zeroMm * (2 * random() - 1);
      const readings = readFilm(order, randomMachine(random), random, () => ({
        ...gauge,
        zeroMm,
        resolutionMm: gauge.stepMm,
      }));
      const outlookAfter = (own: readonly Reading[]) => {
        const session = { coupon: ruler.name, canvas, features, readings: own };
        return outlookOf(fitSessions([session]), [session], { on: [session], taken: gauge });
      };
      for (const count of [8, 12, 36]) {
        const { found, reached, plan } = outlookAfter(readings.slice(0, count));
        const wanted = missingIn(reached, plan.determined);
        const left = found ? found.next : plan.order.slice(0, plan.readable).map(({ feature }) => feature);
        const more = new Set(left.map(({ id }) => id));
        const then = outlookAfter(readings.filter(({ feature }, i) => i < count || more.has(feature))).reached;
        const ratios = wanted.map((name) => then[name]! / (found?.brings ?? reached)[name]!);
        (found ? reachedBy : lastOnes).push(...ratios.filter(Number.isFinite));
      }
    }
    const mean = (values: readonly number[]): number => values.reduce((sum, one) => sum + one, 0) / values.length;
    expect(reachedBy.length).toBeGreaterThan(6);
    expect(mean(reachedBy)).toBeGreaterThan(0.88);
    expect(mean(reachedBy)).toBeLessThan(1.12);
    // Where nothing is said to help, it does not.
    for (const ratio of lastOnes) expect(ratio).toBeGreaterThan(0.87);
  });

  it('takes a few readings that agree, in steps, to scatter as a hand and its steps usually do', () => {
    const features = ruler.features.features
      .filter((one): one is DimensionalFeature => one.kind === 'opening')
      .slice(0, 12);
    const readings = features.map(({ id, nominalMm }) => ({ feature: id, readingMm: nominalMm, gauge: 'loupe' }));
    const number = { value: 1, stdUncertainty: 0.001, interval95: [0.998, 1.002] as const, dof: 9 };
    const widerBy = (resolutionMm: number): number => {
      const scatter = [{ gauge: 'loupe jaws', readings: 12, sdMm: 0.001, resolutionMm }];
      const result = { parameters: Array.from({ length: 5 }, () => number), scatter } as never;
      return likelyWider(result, [{ coupon: 'ladder', features, readings }]).kerfXMm;
    };
    // 10 readings' worth of 6.5 um, with the steps of 10 um 7.1, beside 9 to spare of 1 um and the same steps; Student's t of 19
    // and of 9 degrees of freedom (NIST/SEMATECH e-Handbook of Statistical Methods, 1.3.6.7.2): 2.093 and 2.262.
    const by = (usual: number, seen: number): number =>
      (Math.sqrt((10 * usual + 9 * seen) / 19 / seen) * 2.093) / 2.262;
    expect(widerBy(0.001)).toBeCloseTo(by(6.5 ** 2 + 1 / 12, 1 + 1 / 12), 3);
    expect(widerBy(0.01)).toBeCloseTo(by(6.5 ** 2 + 100 / 12, 1 + 100 / 12), 3);
  });

  it('counts edges that are sighted, once the jaws have gripped all that they can', () => {
    const [gauge] = GAUGES;
    const { features, canvas } = ruler.features;
    const isGripped = (one: DimensionalFeature): boolean => one.by === 'jaws' || (one.from[0] !== one.to[0] && one.from[1] !== one.to[1]); // biome-ignore format: one thought
    const gripped = features.filter((one): one is DimensionalFeature => 'from' in one && isGripped(one));
    const random = seeded(4);
    const readings = readFilm(gripped, randomMachine(random), random, () => ({ ...gauge, resolutionMm: gauge.stepMm }));
    const session = { coupon: ruler.name, canvas, features, readings };
    const { found, reached } = outlookOf(fitSessions([session]), [session], { taken: gauge });
    expect(found?.next.slice(0, 4).map(({ id }) => id)).toEqual(expect.arrayContaining([expect.stringMatching(/^R[D-F]0-6$/)])); // biome-ignore format: one list
    expect(found!.most.scaleY! / reached.scaleY!).toBeLessThan(0.9);
  });

  it('holds a scan to no hand’s scatter, and asks for no widths that were read', async () => {
    const { features, canvas } = (await generateCoupon('aperture-ladder', { widthMm: 60, heightMm: 40, pitchXMm: 0.0254 })).features; // biome-ignore format: one thought
    const widths = features.filter((one): one is DimensionalFeature => 'from' in one && one.nominalMm > 0.2);
    const machine = [1.003, 0.997, 0.001, 0.1, 0.08] as const;
    const random = seeded(7);
    const read = readFilm(widths, machine, random, () => ({ noiseMm: 2e-4, resolutionMm: 1e-5 }));
    const outlookAs = (more: (one: Reading) => Partial<Reading>) => {
      const readings = read.map((one) => ({ ...one, gauge: 'scanner openings', ...more(one) }));
      const session = { coupon: 'aperture-ladder', canvas, features, readings, gaugeLimitsMm: { 'scanner openings': 0.0033 } }; // biome-ignore format: one thought
      return outlookOf(fitSessions([session]), [session]);
    };
    const ofScan = outlookAs(() => ({ uncertaintyMm: 4e-4 }));
    expect(ofScan.wider.kerfXMm).toBe(1);
    expect(ofScan.reached.kerfXMm).toBeLessThan(0.005);
    expect(ofScan.left.widths).toBe(true);
    // A hand that read as evenly had luck.
    expect(outlookAs(() => ({})).wider.kerfXMm).toBeGreaterThan(3);
  });

  it('asks for a turned scan only where it helps', () => {
    const { features, canvas } = ruler.features;
    const spans = features.filter((one): one is DimensionalFeature => 'from' in one && one.kind === 'span' && one.by !== 'jaws'); // biome-ignore format: one thought
    const along = ({ from, to }: DimensionalFeature): string => (from[1] === to[1] ? 'X' : from[0] === to[0] ? 'Y' : 'slanted'); // biome-ignore format: one thought
    const random = seeded(8);
    const read = readFilm(spans, randomMachine(random), random, () => ({ noiseMm: 5e-4, resolutionMm: 1e-5 }));
    const readings = read.map((one, i) => ({ ...one, gauge: `scanner spans ${along(spans[i])}`, uncertaintyMm: 5e-4 }));
    // X by a caliper; Y and the right angle as scanners are.
    const gaugeLimitsMm = { 'scanner spans X': 0.02, 'scanner spans Y': 0.7, 'scanner spans slanted': 0.4 };
    const session = { coupon: ruler.name, canvas, features, readings, gaugeLimitsMm };
    const { held } = outlookOf(fitSessions([session]), [session]);
    expect(held.scaleX).toMatch(/^the limit of error of scanner spans X .* hardly narrow that$/);
    for (const name of ['scaleY', 'shear'] as const)
      expect(held[name]).toMatch(/until the same film is scanned turned/);
  });
});
