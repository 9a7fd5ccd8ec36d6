import { describe, expect, it } from 'vitest';
import { calibratedValue, calibrationControl } from '../../../src/fit/drift/calibration-control.js';

/** Line-width calibration: NIST/SEMATECH e-Handbook, 2.3.6.7.2, 2.3.6.7.3 and 2.3.7.1 (day, known µm, read µm). */
const CHECKS = [
  [1, 0.76, 1.12],
  [1, 3.29, 3.49],
  [1, 8.89, 9.11],
  [2, 0.76, 0.99],
  [2, 3.29, 3.53],
  [2, 8.89, 8.89],
  [3, 0.76, 1.05],
  [3, 3.29, 3.46],
  [3, 8.89, 9.02],
  [4, 0.76, 0.76],
  [4, 3.29, 3.75],
  [4, 8.89, 9.3],
  [5, 0.76, 0.96],
  [5, 3.29, 3.53],
  [5, 8.89, 9.05],
  [6, 0.76, 1.03],
  [6, 3.29, 3.52],
  [6, 8.89, 9.02],
].map(([group, x, y]) => ({ group, x, y }));

describe('control of a calibration line', () => {
  const result = calibrationControl({ a: 0.2357, b: 0.987, residualSd: 0.06203, dof: 38 }, CHECKS);

  it('gives the printed scatter of the control values', () => {
    expect(result.sdOfControlValues.toFixed(3)).toBe('0.119');
  });

  it("gives the limits of the handbook's formula (120-digit arithmetic; the page plots them only)", () => {
    expect(result.zeta).toBeCloseTo(0.008476213754220748, 14);
    expect(result.tFactor).toBeCloseTo(2.4975750660069687, 10);
    expect(result.upperLimit).toBeCloseTo(0.15696512800852305, 10);
    expect(result.lowerLimit).toBe(-result.upperLimit);
  });

  it('finds the fourth day out of control', () => {
    expect(result.groupsOutside).toEqual([4]);
    expect(result.outside).toEqual([10, 11, 12]);
  });

  it('gives the older edition’s scatter when the fourth day is left out', () => {
    // 0.62036246E-01 is printed for a second control file; that it is these data without day 4 is an inference.
    const older = calibrationControl(
      { a: 0.2817, b: 0.9767, residualSd: 0.06826, dof: 38 },
      CHECKS.filter(({ group }) => group !== 4),
    );
    expect(older.sdOfControlValues).toBeCloseTo(0.062036246, 6);
  });
});

describe('a reading corrected by the line', () => {
  const line = {
    a: 0.2357622902929844,
    b: 0.9870377142845892,
    residualSd: 0.062031959377696205,
    dof: 38,
    covariance: [
      [0.0005905067286299787, -0.0000764945263113703],
      [-0.0000764945263113703, 0.000011837593053446348],
    ],
  };

  it.each([
    [1, 0.774274071443095, 0.0666446537306566],
    [5, 4.8268041238527175, 0.06388212416320786],
    [10, 9.892466689364745, 0.06474122143000317],
  ])('of %f µm has the propagated uncertainty', (y, x, u) => {
    const corrected = calibratedValue(line, y);
    expect(corrected.value).toBeCloseTo(x, 12);
    expect(corrected.stdUncertainty).toBeCloseTo(u, 12);
  });

  it('is nowhere from 0 to 12 µm less certain than the printed maximum', () => {
    const us = Array.from({ length: 121 }, (_, i) => calibratedValue(line, i / 10).stdUncertainty);
    expect(Math.max(...us).toFixed(3)).toBe('0.068');
  });
});

describe('what it refuses', () => {
  const good = { a: 0, b: 1, residualSd: 1, dof: 5 };
  it.each([
    ['no check', () => calibrationControl(good, []), 'TOO_FEW_VALUES'],
    ['slope 0', () => calibrationControl({ ...good, b: 0 }, CHECKS), 'SLOPE_ZERO'],
    ['no degrees of freedom', () => calibrationControl({ ...good, dof: 0 }, CHECKS), 'NO_DEGREES_OF_FREEDOM'],
    ['no covariance', () => calibratedValue(good, 1), 'NO_COVARIANCE'],
  ])('%s', (_, run, code) => {
    expect(run).toThrow(expect.objectContaining({ code }));
  });
});
