import { describe, expect, it } from 'vitest';
import { leastSquares } from '../../../src/fit/linear/least-squares.js';
import { robustLeastSquares } from '../../../src/fit/linear/robust-least-squares.js';
import { gaussian, seeded } from '../../virtual-laser/random.js';

/**
 * Stack loss data: K. A. Brownlee, Statistical Theory and Methodology in Science and Engineering, 2nd ed. (1965), 454.
 * Columns: air flow, water temperature, acid concentration, loss.
 */
const STACK_LOSS = [
  [80, 27, 89, 42], [80, 27, 88, 37], [75, 25, 90, 37], [62, 24, 87, 28], [62, 22, 87, 18], [62, 23, 87, 18],
  [62, 24, 93, 19], [62, 24, 93, 20], [58, 23, 87, 15], [58, 18, 80, 14], [58, 18, 89, 14], [58, 17, 88, 13],
  [58, 18, 82, 11], [58, 19, 93, 12], [50, 18, 89, 8], [50, 18, 86, 7], [50, 19, 72, 8], [50, 19, 79, 8],
  [50, 20, 80, 9], [56, 20, 82, 15], [70, 20, 91, 15],
]; // biome-ignore format: one table
const rows = STACK_LOSS.map(([air, water, acid]) => [1, air, water, acid]);
const loss = STACK_LOSS.map((row) => row[3]);

describe('robustLeastSquares on the stack loss data', () => {
  it('gives Huber’s estimate and its standard errors (1.345, MAD) as the statsmodels manual prints them', () => {
    // Values from memory of the manual's page on robust linear models, first covariance form.
    const fit = robustLeastSquares(rows, loss, { estimator: 'huber' });
    const wanted = [-41.02649835, 0.82938433, 0.92606597, -0.12784672];
    const errors = [9.79189854, 0.11100521, 0.30293016, 0.12864961];
    wanted.forEach((value, j) => {
      expect(fit.coefficients[j]).toBeCloseTo(value, 7);
      expect(fit.standardErrors[j]).toBeCloseTo(errors[j], 7);
    });
    expect(fit.converged).toBe(true);
  });

  it('gives the bisquare estimate of Venables and Ripley, Modern Applied Statistics, section 6.5', () => {
    // -42.285, 0.928, 0.651, -0.112, scale 2.28: from memory of the printed output.
    const fit = robustLeastSquares(rows, loss);
    [-42.285, 0.928, 0.651, -0.112].forEach((value, j) => {
      expect(fit.coefficients[j]).toBeCloseTo(value, 3);
    });
    expect(fit.scale).toBeCloseTo(2.28, 2);
    // Observation 21 is the one that every author finds.
    expect(fit.weights[20]).toBeLessThan(0.01);
  });

  it('gives the plain estimate that textbooks print for these data', () => {
    // Draper and Smith, Applied Regression Analysis, ch. 6: -39.9197, 0.7156, 1.2953, -0.1521; s = 3.243.
    const fit = leastSquares(rows, loss);
    [-39.9197, 0.7156, 1.2953, -0.1521].forEach((value, j) => {
      expect(fit.coefficients[j]).toBeCloseTo(value, 4);
    });
    expect(fit.residualSd).toBeCloseTo(3.243, 3);
  });
});

describe('robustLeastSquares', () => {
  const random = seeded(8);
  const x = Array.from({ length: 60 }, (_, i) => i / 6);
  const clean = x.map((v) => 1 + 0.5 * v + 0.05 * gaussian(random));

  it('moves by less than two standard errors when one observation in ten is off by a factor of ten', () => {
    const dirty = clean.map((v, i) => (i % 10 === 7 ? 10 * v : v));
    const design = x.map((v) => [1, v]);
    const before = robustLeastSquares(design, clean);
    const after = robustLeastSquares(design, dirty);
    before.coefficients.forEach((value, j) => {
      expect(Math.abs(after.coefficients[j] - value)).toBeLessThan(2 * after.standardErrors[j]);
    });
    expect(Math.abs(leastSquares(design, dirty).coefficients[1] - before.coefficients[1])).toBeGreaterThan(
      10 * before.standardErrors[1],
    );
  });

  it('agrees with least squares where nothing is wrong, within a standard error', () => {
    const design = x.map((v) => [1, v]);
    const plain = leastSquares(design, clean);
    const robust = robustLeastSquares(design, clean);
    plain.coefficients.forEach((value, j) => {
      expect(Math.abs(robust.coefficients[j] - value)).toBeLessThan(plain.standardErrors[j]);
      expect(robust.standardErrors[j] / plain.standardErrors[j]).toBeCloseTo(1, 0);
    });
  });

  it('says so when more than half of the observations lie exactly on the fit', () => {
    const y = [1, 2, 3, 4, 5, 6, 70];
    const fit = robustLeastSquares(
      y.map((_, i) => [1, i]),
      y,
    );
    expect(fit.stopped).toMatch(/exactly on the fit|converged/);
    expect(fit.coefficients[1]).toBeCloseTo(1, 2);
  });
});
