import { readFileSync } from 'node:fs';
import { describe, expect, it } from 'vitest';
import { fisherUpper, studentQuantile, studentTwoSided } from '../../../src/fit/statistics/distributions.js';

// Quantiles computed with mpmath to 40 digits and compared with scipy, 12 digits kept; see the file.
const { studentT } = JSON.parse(readFileSync(new URL('../published/quantiles.json', import.meta.url), 'utf8')) as {
  studentT: { dof: number[]; p: string[]; values: string[][] };
};

describe('studentQuantile', () => {
  it('agrees with the table to 11 digits for every degree of freedom and probability', () => {
    studentT.dof.forEach((dof, i) => {
      studentT.p.forEach((p, j) => {
        const wanted = Number(studentT.values[i][j]);
        expect(Math.abs(studentQuantile(2 * (1 - Number(p)), dof) / wanted - 1)).toBeLessThan(1e-11);
      });
    });
  });

  it('is the normal quantile for infinite degrees of freedom', () => {
    // 1.959963984540054: standard normal tables.
    expect(studentQuantile(0.05, Number.POSITIVE_INFINITY)).toBeCloseTo(1.959963984540054, 12);
  });

  it('inverts the tail for degrees of freedom that are not whole', () => {
    for (const dof of [1.5, 7.3, 93.7, 1e5]) {
      expect(studentTwoSided(studentQuantile(1e-6, dof), dof)).toBeCloseTo(1e-6, 14);
    }
  });
});

describe('fisherUpper', () => {
  it('is the square of Student’s t for one degree of freedom above', () => {
    expect(fisherUpper(2.5 ** 2, 1, 17)).toBeCloseTo(studentTwoSided(2.5, 17), 14);
  });

  it('has the closed form (1 + 2f/m)^(-m/2) for two degrees of freedom above', () => {
    expect(fisherUpper(3.4, 2, 9)).toBeCloseTo((1 + (2 * 3.4) / 9) ** -4.5, 14);
  });
});
