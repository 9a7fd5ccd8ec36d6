import { describe, expect, it } from 'vitest';
import { fitCalibration } from '../../../src/fit/calibration/fit-sessions.js';
import type { Outcome, Reading } from '../../../src/readings/types.js';
import { seeded } from '../../virtual-laser/random.js';
import { benchFeatures, type Machine, readAll } from './virtual-bench.js';

const features = benchFeatures();
const machine: Machine = [1.0021, 0.9978, 0.003, 0.101, 0.082];
const all = readAll(features, machine, seeded(31));
const openings = features.filter(({ kind }) => kind === 'opening');
const narrowest = Math.min(...openings.map(({ nominalMm }) => nominalMm));
const saidOf = (id: string, outcome: Outcome): Reading[] => all.map((one) => (one.feature === id ? { feature: id, outcome } : one)); // biome-ignore format: one thought

describe('an opening that is said to be closed', () => {
  it.each(openings.filter(({ nominalMm }) => nominalMm > 0.25).map(({ id }) => id))(
    'although narrower ones came through stands out: %s',
    (id) => {
      const { flagged, limits } = fitCalibration(saidOf(id, 'closed'), features);
      expect(flagged.map(({ feature }) => feature)).toEqual([id]);
      expect(flagged[0].sentence).toMatch(/^O\d+ is said to be closed, about .* mm came through: look again/);
      // What is doubted sets no limit, and is not counted among what came through.
      expect(limits?.minOpeningMm).toBeUndefined();
      expect(limits?.evidence?.join()).toMatch(new RegExp(`openings: all but ${id}, to be looked at again, came`));
    },
  );

  it('as all up to its width are stands alone as the limit', () => {
    const closed = new Set(openings.filter(({ nominalMm }) => nominalMm < 0.25).map(({ id }) => id));
    const readings = all.map((one) => (closed.has(one.feature) ? { feature: one.feature, outcome: 'closed' } : one));
    const { flagged, limits } = fitCalibration(readings as Reading[], features);
    expect(flagged).toEqual([]);
    expect(limits?.minOpeningMm).toBeCloseTo(0.36, 2);
  });

  it('and is about the narrowest may be', () => {
    const [first] = openings.filter(({ nominalMm }) => nominalMm === narrowest);
    expect(fitCalibration(saidOf(first.id, 'closed'), features).flagged).toEqual([]);
  });

  it('is compared with what has the same shape: a round hole closes before a slot does, but not one twice as wide', () => {
    const round = (width: number) => {
      const to: [number, number] = [20 + width, 70];
      return { id: 'C', kind: 'opening' as const, from: [20, 70] as [number, number], to, nominalMm: width, shape: 'circle' as const, say: 'look' }; // biome-ignore format: one thought
    };
    const closed: Reading[] = [...all, { feature: 'C', outcome: 'closed' }];
    expect(fitCalibration(closed, [...features, round(0.2)]).flagged).toEqual([]);
    expect(fitCalibration(closed, [...features, round(0.9)]).flagged).toHaveLength(1);
  });
});

describe('what has a width and is said to be missing', () => {
  const web = features.find(({ kind }) => kind === 'web')!;
  it.each<[string, Reading[], RegExp]>([
    ['closed in the same row', all.map((one) => (one.feature === openings[0].id ? { ...one, outcome: 'closed', line: 7 } : one)), /is said to be closed, but the same row reads 0\.\d+ mm/], // biome-ignore format: one row a case
    ['closed in another row', [...all.map((one, i) => ({ ...one, line: i + 2 })), { feature: openings[0].id, outcome: 'closed', line: 99 }], /is said to be closed, but line \d+ reads/], // biome-ignore format: one row a case
    ['gone in another row', [{ feature: web.id, outcome: 'gone' }, ...all], /is said to be gone, but line \d+ reads/], // biome-ignore format: one row a case
  ])('is refused: %s', (_, readings, words) => {
    const told = { code: 'READ_AND_MISSING', message: expect.stringMatching(words) };
    expect(() => fitCalibration(readings, features)).toThrow(
      expect.objectContaining({ problems: [expect.objectContaining(told)] }),
    );
  });

  it('is no contradiction when its width is read as 0, or the row was left out', () => {
    const zero: Reading[] = [
      ...all.filter(({ feature }) => feature !== web.id),
      { feature: web.id, readingMm: 0, outcome: 'gone' },
    ];
    expect(() => fitCalibration(zero, features)).not.toThrow();
    expect(() => fitCalibration([...all, { feature: web.id, outcome: 'gone', dropped: true }], features)).not.toThrow();
  });
});

it.each([
  ['a reading that is no number', { readingMm: Number.NaN }, 'NOT_FINITE'],
  ['a gauge with steps of a centimetre', { resolutionMm: 10 }, 'BAD_RESOLUTION'],
])('%s is refused', (_, wrong, code) => {
  const readings = all.map((one, i) => (i === 3 ? { ...one, ...wrong } : one));
  expect(() => fitCalibration(readings, features)).toThrow(expect.objectContaining({ code }));
});

it('a line that a vernier does not have is refused', () => {
  const vernier = { id: 'V', kind: 'vernier', measures: 'kerf', axis: 'x', lines: 20, zeroLine: 10, stepMm: 0.01, box: [0, 0, 1, 1], say: '' } as const; // biome-ignore format: one record
  const readings = [...all, { feature: 'V', readingMm: 21 }];
  expect(() => fitCalibration(readings, [...features, vernier])).toThrow(
    expect.objectContaining({ code: 'READING_IMPOSSIBLE' }),
  );
  expect(() => fitCalibration([{ feature: 'V', readingMm: 14 }], [vernier])).not.toThrow();
});
