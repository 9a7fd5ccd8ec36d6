import { describe, expect, it } from 'vitest';
import { unitOfReadings } from '../../../src/fit/calibration/unit-of-readings.js';
import { seeded } from '../../virtual-laser/random.js';
import { benchFeatures, type Machine, randomMachine, readAll } from './virtual-bench.js';

const features = benchFeatures();
const machine: Machine = [1.0021, 0.9978, 0.003, 0.141, 0.118];
const inMm = readAll(features, machine, seeded(1));
const kindOf = new Map(features.map(({ id, kind }) => [id, kind]));
const written = (factor: number, decimals: number, which: (kind: string, i: number) => boolean = () => true) =>
  inMm.map((reading, i) => ({
    feature: reading.feature,
    readingMm: which(kindOf.get(reading.feature) ?? '', i)
      ? Number((reading.readingMm * factor).toFixed(decimals))
      : reading.readingMm,
  }));

describe('the unit of bare numbers', () => {
  // Factors: 1 in = 25.4 mm and 1 mil = 0.0254 mm by definition.
  const cases: [string, number, number, string][] = [
    ['inches to a tenth of a mil', 1 / 25.4, 4, 'in'],
    ['inches to a mil', 1 / 25.4, 3, 'in'],
    ['mil', 1 / 0.0254, 1, 'mil'],
    ['µm', 1000, 0, 'um'],
    ['cm', 0.1, 3, 'cm'],
  ];
  it.each(cases)('is told when all are in %s', (_, factor, decimals, unit) => {
    expect(unitOfReadings(written(factor, decimals), features)).toMatchObject({ unit, of: 'readings', count: inMm.length });
    expect(unitOfReadings(written(factor, decimals, (kind) => kind === 'span'), features)).toMatchObject({ unit, of: 'spans' });
    expect(unitOfReadings(written(factor, decimals, (kind) => kind !== 'span'), features)).toMatchObject({ unit, of: 'widths' });
  }); // biome-ignore format: one line each

  it('is told with a few mistyped ones among them', () => {
    const readings = written(1 / 25.4, 4).map((reading, i) =>
      i % 20 === 3 ? { ...reading, readingMm: 10 * reading.readingMm } : reading,
    );
    expect(unitOfReadings(readings, features)?.unit).toBe('in');
  });

  it('is mm when only a few are in inches: those are wrong readings', () => {
    expect(
      unitOfReadings(
        written(1 / 25.4, 4, (_, i) => i % 10 === 0),
        features,
      ),
    ).toBeUndefined();
  });

  it('is mm for a hundred machines, and for one alone that burns a fifth too long', () => {
    const random = seeded(4);
    for (let run = 0; run < 100; run += 1) {
      expect(unitOfReadings(readAll(features, randomMachine(random), random), features)).toBeUndefined();
    }
    expect(unitOfReadings(readAll(features, [1.2, 1.2, 0, 0.3, 0.3], random), features)).toBeUndefined();
    // A program that takes pixels of 96 dpi for mm is a scale to be found, not a unit.
    expect(unitOfReadings(readAll(features, [0.2646, 0.2646, 0, 0.14, 0.14], random), features)).toBeUndefined();
  });

  it('is not asked of single readings', () => {
    expect(unitOfReadings(written(1 / 25.4, 4).slice(0, 1), features)).toBeUndefined();
  });
});
