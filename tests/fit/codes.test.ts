import { describe, expect, it } from 'vitest';
import { ewmaChart } from '../../src/fit/drift/charts.js';
import { fitSpot, type SpotPoint } from '../../src/fit/spot/fit-spot.js';
import { rectangle, solid } from '../../src/geometry/shapes.js';
import { predictCut } from '../../src/machine/predict-cut.js';

const RADIUS_MM = 0.05;
/** Kerfs after the law of a Gaussian beam, threshold 1 %·s/mm. */
const point = (ratio: number, over: Partial<SpotPoint> = {}): SpotPoint => ({
  powerPercent: 50,
  speedMmS: 50 / ratio,
  kerfMm: RADIUS_MM * Math.sqrt(2 * Math.log(ratio)),
  ...over,
});
const POINTS = [1.5, 2, 3, 4, 6].map((ratio) => point(ratio));

describe('spot', () => {
  it('an uncertainty of nothing gives UNCERTAINTY_NOT_POSITIVE', () => {
    const points = POINTS.map((each) => ({ ...each, stdUncertaintyMm: 0 }));
    expect(() => fitSpot(points)).toThrow(expect.objectContaining({ code: 'UNCERTAINTY_NOT_POSITIVE' }));
  });

  it.each([
    ['a kerf of nothing among others', [...POINTS, point(1.2, { kerfMm: 0 })], 'POINT_LEFT_OUT'],
    ['a kerf of three radii among few', [point(1.5), point(3), point(Math.exp(4.5))], 'BEYOND_THE_LAW'],
  ])('%s: %#', (_, points, code) => {
    expect(fitSpot(points).warnings.map((warning) => warning.code)).toContain(code);
  });
});

it('a chart with a scatter below nothing gives SD_NOT_POSITIVE', () => {
  expect(() => ewmaChart([1, 2], { sd: -1 })).toThrow(expect.objectContaining({ code: 'SD_NOT_POSITIVE' }));
});

it('numbers that do not fit the openings give NUMBERS_MISMATCH', () => {
  const model = { scaleX: 1, scaleY: 1, shear: 0, kerfXMm: 0.1, kerfYMm: 0.1 };
  const openings = [solid(rectangle(0, 0, 1, 1))];
  expect(() => predictCut(openings, model, { numbers: [1, 2] })).toThrow(
    expect.objectContaining({ code: 'NUMBERS_MISMATCH' }),
  );
});
