import { beforeAll, describe, expect, it } from 'vitest';
import { type DimensionalFeature, isForJaws } from '../../../src/coupon/features.js';
import { generateCoupon } from '../../../src/coupon/generate.js';
import { parseFeatures } from '../../../src/coupon/parse-features.js';
import type { Coupon } from '../../../src/coupon/types.js';
import { fitSessions } from '../../../src/fit/calibration/fit-sessions.js';
import { planReadings } from '../../../src/fit/plan/plan-readings.js';
import { couponOrder } from '../../../src/fit/plan/plan-words.js';
import { boundsOf } from '../../../src/geometry/bounds.js';
import { takenWith } from '../../../src/project/project.js';
import { blankReadings } from '../../../src/readings/blank-readings.js';
import { seeded } from '../../virtual-laser/random.js';
import { type Gauge, randomMachine, readFilm } from './virtual-bench.js';

let ruler: Coupon;
let lengths: DimensionalFeature[];
let windows: DimensionalFeature[];

beforeAll(async () => {
  ruler = await generateCoupon('scale-ruler', { widthMm: 150, heightMm: 100, pitchXMm: 0.0254 });
  lengths = ruler.features.features.filter((one): one is DimensionalFeature => 'from' in one);
  windows = lengths.filter(isForJaws);
});

const slanted = ({ from, to }: DimensionalFeature): boolean => from[0] !== to[0] && from[1] !== to[1];

describe('windows for the jaws of a caliper', () => {
  it.each([
    [80, 60],
    [150, 100],
    [200, 150],
    [210, 297],
  ])(
    'on %d x %d mm: inside jaws press on outer edges of two openings, outside jaws close on film without one',
    async (widthMm, heightMm) => {
      const coupon = await generateCoupon('scale-ruler', { widthMm, heightMm, pitchXMm: 0.0254 });
      const windows = coupon.features.features.filter(isForJaws) as DimensionalFeature[];
      const boxes = coupon.openings.map((opening) => boundsOf([opening])!);
      expect(windows.length).toBeGreaterThanOrEqual(8);
      for (const { kind, from, to } of windows) {
        const axis = from[1] === to[1] ? 'X' : 'Y';
        const low = (box: (typeof boxes)[number]): number => box[`min${axis}`];
        const high = (box: (typeof boxes)[number]): number => box[`max${axis}`];
        const along = axis === 'X' ? 0 : 1;
        const holds = (box: (typeof boxes)[number], other: number): boolean =>
          axis === 'X' ? box.minY < other && other < box.maxY : box.minX < other && other < box.maxX;
        const own = boxes.filter((box) => holds(box, from[1 - along]));
        const starts = own.find((box) => Math.abs((kind === 'opening' ? low(box) : high(box)) - from[along]) < 1e-6)!;
        if (kind === 'web') {
          const between = own.filter((box) => low(box) < to[along] - 1e-6 && high(box) > from[along] + 1e-6);
          expect(between).toEqual([]);
        }
        const ends = own.find((box) => Math.abs((kind === 'opening' ? high(box) : low(box)) - to[along]) < 1e-6)!;
        // Jaws need room: about 5 mm along and 6 mm across (common practice).
        for (const box of [starts, ends])
          expect(Math.min(box.maxX - box.minX, box.maxY - box.minY)).toBeGreaterThan(4.9);
      }
    },
  );

  it('fix scale and kerf with a caliper alone, whatever its zero within its limit', () => {
    const random = seeded(4);
    let inside = 0;
    let count = 0;
    for (let c = 0; c < 12; c += 1) {
      const machine = randomMachine(random);
      const zeroMm = 0.02 * (2 * random() - 1);
      const caliper: Gauge = { noiseMm: 0.007, resolutionMm: 0.01, zeroMm };
      const readings = readFilm(windows, machine, random, () => caliper);
      const { parameters, flagged, gauges } = fitSessions([{ coupon: 'scale-ruler', features: lengths, readings }]);
      expect(flagged).toEqual([]);
      expect(gauges.map(({ name, limitMm }) => [name, limitMm])).toEqual([['scale-ruler caliper', 0.02]]);
      expect(gauges[0].limitBecause).toMatch(/^none was stated: .*ISO 13385-1.*--gauge-limit-mm/);
      expect(parameters.map(({ assumed }) => assumed)).toEqual([false, false, true, false, false]);
      for (const k of [0, 1, 3, 4]) {
        const [low, high] = parameters[k].interval95;
        if (low <= machine[k] && machine[k] <= high) inside += 1;
        count += 1;
        expect(high - low).toBeLessThan(k < 2 ? 2.5e-3 : 0.04);
      }
    }
    // 48 intervals: two standard deviations of a binomial share below 0.95.
    expect(inside / count).toBeGreaterThanOrEqual(0.89);
  });

  it('tell of inside jaws that read otherwise than outside ones, where the ladder has another kerf for that alone', async () => {
    const ladder = await generateCoupon('aperture-ladder', { widthMm: 150, heightMm: 100, pitchXMm: 0.0254 });
    const widths = ladder.features.features.filter((one): one is DimensionalFeature => 'from' in one);
    const machine = [1.002, 0.998, 0.001, 0.12, 0.1] as const;
    const gauge: Gauge = { noiseMm: 0.004, resolutionMm: 0.01 };
    const random = seeded(6);
    const jaws = (one: DimensionalFeature): Gauge => ({ ...gauge, zeroMm: one.kind === 'opening' ? 0.02 : -0.02 });
    const session = (coupon: string, features: DimensionalFeature[], by: (one: DimensionalFeature) => Gauge) => ({
      ...{ coupon, features },
      readings: readFilm(features, machine, random, by),
    });
    const { warnings } = fitSessions([
      session('aperture-ladder', widths, () => gauge),
      session('scale-ruler', windows, jaws),
    ]);
    const { message } = warnings.find(({ code }) => code === 'KERF_BY_COUPON')!;
    expect(message).toMatch(
      / are \d+ µm wider .*, or the inside jaws of the caliper read otherwise than its outside jaws/,
    );
    const plain = fitSessions([
      session('aperture-ladder', widths, () => gauge),
      {
        ...session('second-ladder', widths, () => gauge),
        readings: readFilm(widths, [1.002, 0.998, 0.001, 0.15, 0.13], random, () => gauge),
      },
    ]);
    expect(plain.warnings.find(({ code }) => code === 'KERF_BY_COUPON')!.message).not.toContain('jaws');
  });

  it('are a gauge of their own beside slanted slots that are sighted, also where both are called caliper', () => {
    const random = seeded(8);
    const read = lengths.filter((one) => isForJaws(one) || slanted(one));
    const sighted: Gauge = { noiseMm: 0.006, resolutionMm: 0.01, zeroMm: 0.045, name: 'caliper' };
    for (let c = 0; c < 6; c += 1) {
      const machine = randomMachine(random);
      const readings = readFilm(read, machine, random, (one) => (isForJaws(one) ? { ...sighted, zeroMm: 0 } : sighted));
      const { parameters, gauges } = fitSessions([{ coupon: 'scale-ruler', features: lengths, readings }]);
      expect(new Map(gauges.map(({ name, limitMm }) => [name, limitMm]))).toEqual(new Map([['caliper', 0.02], ['caliper jaws', 0.02]])); // biome-ignore format: one list
      for (const k of [0, 1, 2]) {
        const [low, high] = parameters[k].interval95;
        const middle = (low + high) / 2;
        expect(Math.abs(machine[k] - middle)).toBeLessThan(1.1 * (high - middle));
      }
    }
  });

  it('run as fast as the tips of their caliper: what its lengths are off by is averaged by neither', () => {
    const random = seeded(8);
    const read = lengths.filter((one) => isForJaws(one) || slanted(one));
    const longest = Math.max(...read.map(({ nominalMm }) => nominalMm));
    const machine = randomMachine(random);
    const exact: Gauge = { noiseMm: 0.002, resolutionMm: 0.01, zeroMm: 0, name: 'caliper' };
    const readings = readFilm(read, machine, random, () => exact);
    // At the limit of error of the standard, 0.02 mm at the longest of its lengths.
    const fast = readings.map((row) => ({ ...row, readingMm: row.readingMm && row.readingMm * (1 + 0.02 / longest) }));
    const { parameters } = fitSessions([{ coupon: 'scale-ruler', features: lengths, readings: fast }]);
    for (const k of [0, 1]) {
      const [low, high] = parameters[k].interval95;
      expect(machine[k]).toBeGreaterThan(low);
      expect(machine[k]).toBeLessThan(high);
    }
  });

  it('are a plan of their own, beside slanted slots, which nothing grips', () => {
    const { order, first } = planReadings(lengths, { gauge: { takes: 'windows' } });
    const own = order.slice(0, first).map(({ feature }) => feature);
    expect(own.every((feature) => isForJaws(feature) || slanted(feature))).toBe(true);
    expect(own.some(isForJaws)).toBe(true);
    const sighted = planReadings(lengths);
    expect(sighted.order.slice(0, sighted.first).some(({ feature }) => isForJaws(feature))).toBe(false);
    expect(sighted.order).toHaveLength(lengths.length);
  });

  it('stand in the readings file behind those that are sighted, once', () => {
    const order = couponOrder(ruler)!;
    const text = blankReadings(ruler, order);
    expect(text).toMatch(/# With a caliper: these in place of the spans along X and Y above\.\nR[A-Z]\d-\d(in|out),/);
    expect(order.features.map(({ id }) => id).sort()).toEqual(ruler.features.features.map(({ id }) => id).sort());
  });

  it('come first where only a caliper is named, and edges of slots along an axis, which it can’t grip, last', () => {
    const { features, first, forJaws, enoughFor } = couponOrder(ruler, { takes: 'windows', stepMm: 0.01 })!;
    const head = features.slice(0, first).filter((one): one is DimensionalFeature => 'from' in one);
    expect(head.some(isForJaws)).toBe(true);
    expect(head.every((one) => isForJaws(one) || slanted(one))).toBe(true);
    expect(forJaws).toBe(0);
    expect(enoughFor).toMatch(/scatter by 5 µm/);
    // What is left of the slanted slots and windows brings nothing: it is not asked for among the first.
    const lengths = features.filter((one): one is DimensionalFeature => 'from' in one);
    expect(first).toBeLessThan(lengths.filter((one) => isForJaws(one) || slanted(one)).length);
    expect(couponOrder(ruler, { takes: 'edges', stepMm: 0.1 })!.enoughFor).toMatch(/scatter by 29 µm/);
  });

  it('are asked for when a gauge of the project is a caliper; a loupe and a ruler sight edges', () => {
    const kinds = ruler.features.features;
    const [caliper, loupe, rule] = ['Caliper', 'loupe', 'steel rule'].map((name) => ({ name, resolutionMm: 0.05 }));
    expect(takenWith(kinds, [loupe, caliper])).toEqual({ takes: 'windows', stepMm: 0.05 });
    expect(takenWith(kinds, [loupe])?.takes).toBe('edges');
    expect(takenWith(kinds, [rule])?.takes).toBe('edges');
    expect(takenWith([{ kind: 'opening' }, { kind: 'web' }], [loupe, caliper])?.takes).toBe('edges');
    expect(takenWith(kinds, [])).toBeUndefined();
  });

  it('keep their mark in the features file', () => {
    const read = parseFeatures(JSON.stringify(ruler.features), 'a.json').features;
    expect(read).toEqual(ruler.features.features);
  });
});
