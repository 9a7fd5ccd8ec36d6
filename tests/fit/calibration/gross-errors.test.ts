import { beforeAll, describe, expect, it } from 'vitest';
import { type DimensionalFeature, type FeaturesFile, isForJaws } from '../../../src/coupon/features.js';
import { generateCoupon } from '../../../src/coupon/generate.js';
import { fitCalibration } from '../../../src/fit/calibration/fit-sessions.js';
import { otherCanvas } from '../../../src/fit/calibration/gross-errors.js';
import type { CalibrationOptions } from '../../../src/fit/calibration/types.js';
import type { Reading } from '../../../src/readings/types.js';
import { seeded } from '../../virtual-laser/random.js';
import { type Faults, type Machine, randomMachine, readFilm } from './virtual-bench.js';

const BEDS = ['150x100', '110x110', '200x150', '100x80'] as const;
const rulers = new Map<string, FeaturesFile>();
beforeAll(async () => {
  for (const bed of BEDS) {
    const [widthMm, heightMm] = bed.split('x').map(Number);
    rulers.set(bed, (await generateCoupon('scale-ruler', { widthMm, heightMm, pitchXMm: 0.0254 })).features);
  }
});

const lengthsOf = (bed: string): DimensionalFeature[] =>
  rulers.get(bed)!.features.filter((feature): feature is DimensionalFeature => 'from' in feature);
const careful = () => ({ noiseMm: 0.01, resolutionMm: 0.01 });
const read = (bed: string, machine: Machine, faults: Faults = {}): Reading[] =>
  readFilm(lengthsOf(bed), machine, seeded(3), careful, faults);

function refusal(readings: readonly Reading[], bed: string, options?: CalibrationOptions): unknown {
  try {
    const { fit } = fitCalibration(readings, rulers.get(bed)!, options);
    return { fit: [fit.scaleX.value, fit.scaleY.value] };
  } catch (error) {
    return error;
  }
}

describe('readings of another size of the coupon', () => {
  const pairs = BEDS.flatMap((cut) => BEDS.flatMap((given) => (cut === given ? [] : [[cut, given] as const])));
  it.each(pairs)('cut for %s and given for %s, are named as such, and --robust makes nothing of them', (cut, given) => {
    const known = new Set(lengthsOf(given).map(({ id }) => id));
    const readings = read(cut, randomMachine(seeded(8))).filter(({ feature }) => known.has(feature));
    const [width] = given.split('x');
    for (const robust of [false, true])
      expect(refusal(readings, given, { robust })).toMatchObject({
        code: 'READINGS_CONTRADICT',
        message: expect.stringContaining('another size of it'),
        problems: [{ hint: expect.stringMatching(new RegExp(`canvas of ${width}\\.0 x`)) }],
      });
  });

  it('are refused whatever is dropped, from a few of them as well', () => {
    const diagonals = lengthsOf('110x110').filter(({ id, from, to }) => /^R[GHJK]/.test(id) && from[0] !== to[0]);
    const windows = lengthsOf('110x110')
      .filter((one) => isForJaws(one) && one.id.startsWith('RM'))
      .slice(0, 4);
    const few = new Set([...diagonals.slice(0, 7), ...windows].map(({ id }) => id));
    const readings = read('110x110', randomMachine(seeded(9))).filter(({ feature }) => few.has(feature));
    expect(readings.length).toBeGreaterThan(7);
    const drop = windows.slice(0, 2).map(({ id }) => id);
    for (const options of [{}, { robust: true }, { drop }])
      expect(refusal(readings, '150x100', options)).toMatchObject({ code: 'READINGS_CONTRADICT' });
  });
});

describe('readings of the right coupon', () => {
  it.each([
    ['a program that assumes another resolution', [0.833, 0.834, 0.002, 0.15, 0.14]],
    ['dots that are taken as square', [0.508, 1, 0, 0.15, 0.15]],
    ['mm taken as inches', [25.4, 25.4, 0, 0.15, 0.15]],
  ] as [string, Machine][])('are fitted with %s, slips or not', (_what, machine) => {
    const waves: Faults = { place: (x, y) => [0.15 * Math.sin(x / 6), 0.15 * Math.sin(y / 6)] };
    for (const faults of [{}, waves]) {
      const readings = read('150x100', machine, faults);
      for (const slipped of [readings, readings.map(withSlips)]) {
        const found = refusal(slipped, '150x100', { robust: true }) as { fit: number[] };
        expect(found).toMatchObject({ fit: [expect.closeTo(machine[0], 1), expect.closeTo(machine[1], 1)] });
      }
    }
  });

  const withSlips = (reading: Reading, i: number): Reading =>
    i % 12 === 5 ? { ...reading, readingMm: reading.readingMm! / (i % 24 === 5 ? 10 : 25.4) } : reading;
});

it('names coupons of unlike canvases', () => {
  const session = (coupon: string, widthMm: number, heightMm: number) => ({
    coupon,
    canvas: { widthMm, heightMm, pitchXMm: 0.05, pitchYMm: 0.05 },
    features: [],
    readings: [],
  });
  const ruler = session('scale-ruler', 149.96, 99.97);
  expect(otherCanvas([ruler, session('aperture-ladder', 110, 110)])).toMatch(
    /^scale-ruler was made for a canvas of 150\.0 x 100\.0 mm, aperture-ladder for one of 110\.0 x 110\.0 mm: were both/,
  );
  expect(otherCanvas([ruler, session('aperture-ladder', 150, 100), session('witness', 12, 12)])).toBeUndefined();
});
