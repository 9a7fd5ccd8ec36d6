import { beforeAll, describe, expect, it } from 'vitest';
import { type DimensionalFeature, isForJaws } from '../../../src/coupon/features.js';
import { generateCoupon } from '../../../src/coupon/generate.js';
import type { InputError } from '../../../src/errors.js';
import { fitCalibration } from '../../../src/fit/calibration/fit-sessions.js';
import { couponOrder } from '../../../src/fit/plan/plan-words.js';
import { seeded } from '../../virtual-laser/random.js';
import { randomMachine, readFilm } from './virtual-bench.js';

type Edge = readonly [letter: string, number: number];

// The slots of a ruler by letter and number, as a person finds them on the film: A to C along X from below, D to F along
// Y from the left, seven each; what is read under a name when the film lies another way.
const TURNED: Record<string, string> = { A: 'C', B: 'B', C: 'A', D: 'F', E: 'E', F: 'D' };
const OTHER_AXIS: Record<string, string> = { A: 'D', B: 'E', C: 'F', D: 'A', E: 'B', F: 'C' };
const WAYS: Record<string, (edge: Edge) => Edge> = {
  'turned by half a turn': ([letter, i]) => [TURNED[letter], 6 - i],
  'mirrored left to right': ([letter, i]) => ('ABC'.includes(letter) ? [letter, 6 - i] : [TURNED[letter], i]),
  'mirrored up and down': ([letter, i]) => ('DEF'.includes(letter) ? [letter, 6 - i] : [TURNED[letter], i]),
  'with X and Y interchanged': ([letter, i]) => [OTHER_AXIS[letter], i],
};

let ruler: DimensionalFeature[];
let windows: DimensionalFeature[];
let planned: DimensionalFeature[];
beforeAll(async () => {
  const coupon = await generateCoupon('scale-ruler', { widthMm: 150, heightMm: 100, pitchXMm: 0.0254 });
  const lengths = (pool: readonly unknown[]) => (pool as DimensionalFeature[]).filter((one) => 'from' in one);
  ruler = lengths(coupon.features.features).filter((one) => !isForJaws(one));
  windows = lengths(coupon.features.features).filter(isForJaws);
  const order = couponOrder(coupon)!;
  planned = lengths(order.features.slice(0, order.first));
});

/** What is found under each name. */
function asLaid(features: readonly DimensionalFeature[], way: (edge: Edge) => Edge): DimensionalFeature[] {
  const at = new Map<string, DimensionalFeature['from']>();
  const names = ({ id }: DimensionalFeature): Edge[] | undefined => {
    const [, letter, i, j] = /^R([A-F])(\d)-(\d)$/.exec(id) ?? [];
    return letter ? [[letter, Number(i)], [letter, Number(j)]] : undefined; // biome-ignore format: one record
  };
  for (const feature of ruler) {
    const [from, to] = names(feature) ?? [];
    if (from && to) at.set(from.join(''), feature.from).set(to.join(''), feature.to);
  }
  return features.map((feature) => {
    const [from, to] = (names(feature) ?? []).map((edge) => at.get(way(edge).join(''))!);
    return from && to ? { ...feature, from, to, nominalMm: Math.hypot(to[0] - from[0], to[1] - from[1]) } : feature;
  });
}

const careful = () => ({ noiseMm: 0.005, resolutionMm: 0.01 });

describe('a film that was read the wrong way round', () => {
  it.each(Object.keys(WAYS))('%s is named as such, from all spans and from those that are read first', (name) => {
    const random = seeded(41);
    const machine = randomMachine(random);
    for (const features of [ruler, planned]) {
      const laid = asLaid(features, WAYS[name]);
      // Which of the two ends is read is the plan's choice: what it leaves out is said to be unchecked.
      if (laid.every(({ nominalMm }, i) => Math.abs(nominalMm / features[i].nominalMm - 1) < 0.05)) continue;
      const readings = readFilm(laid, machine, random, careful);
      let problem: InputError['problems'][number] | undefined;
      try {
        fitCalibration(readings, ruler);
      } catch (error) {
        [problem] = (error as InputError).problems;
      }
      expect(problem?.code).toBe('READ_WRONG_WAY_ROUND');
      const words = name.startsWith('with') ? /if X and Y were interchanged/ : /if the film lay turned or mirrored/;
      expect(problem?.message).toMatch(words);
    }
  });

  it('is named with the windows for a caliper, were they found by place or by their letters, and beside a slip', () => {
    const random = seeded(43);
    const machine = randomMachine(random);
    const laid = asLaid(ruler, WAYS['turned by half a turn']);
    const other = (id: string): string => id.replace(/([LM])([01])-([12])/, (_, row, i) => `${row}${1 - i}-${2 - i}`);
    for (const id of [(name: string) => name, other]) {
      const byId = new Map(windows.map((feature) => [feature.id, feature]));
      const found = windows.map((feature) => ({ ...byId.get(id(feature.id))!, id: feature.id }));
      const readings = readFilm([...laid, ...found], machine, random, careful);
      const slip = readings.map((one) => (one.feature === 'RB2-4' ? { ...one, readingMm: 10 * one.readingMm! } : one));
      for (const read of [readings, slip]) {
        const told = { code: 'READ_WRONG_WAY_ROUND', message: expect.stringMatching(/but all( is| but \d are) right if the film lay turned/) }; // biome-ignore format: one thought
        expect(() => fitCalibration(read, [...ruler, ...windows])).toThrow(
          expect.objectContaining({ problems: [expect.objectContaining(told)] }),
        );
      }
    }
  });

  it('is not what a slip in one of its spans is taken for', () => {
    const random = seeded(42);
    const readings = readFilm(ruler, randomMachine(random), random, careful);
    // The span at the other end of the same ruler, read once.
    const wrong = readings.map((one) =>
      one.feature === 'RA0-1'
        ? { ...one, readingMm: readings.find(({ feature }) => feature === 'RA5-6')!.readingMm }
        : one,
    );
    expect(() => fitCalibration(wrong, ruler)).toThrow(/RA0-1 reads 2\d\.\d+ mm where about 10\./);
  });
});
