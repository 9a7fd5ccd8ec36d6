import { describe, expect, it } from 'vitest';
import { logistic } from '../../../src/fit/window/logistic.js';

/**
 * O-ring damage data (23 flights) as tabulated in introductory statistics texts after Dalal, Fowlkes and Hoadley,
 * J. Amer. Statist. Assoc. 84 (1989): temperature in °F, damaged of 6 O-rings. Binary results as printed by R on a public
 * course page; grouped coefficients as quoted in public scripts, grouped standard errors from memory.
 */
const FLIGHTS_23 = {
  temp: [53, 57, 58, 63, 66, 67, 67, 67, 68, 69, 70, 70, 70, 70, 72, 73, 75, 75, 76, 76, 78, 79, 81],
  damaged: [5, 1, 1, 1, 0, 0, 0, 0, 0, 0, 1, 0, 1, 0, 0, 0, 0, 1, 0, 0, 0, 0, 0],
};

/** The launch record in another book, with 24 launches: Montgomery and Runger, Applied Statistics and Probability for Engineers, supplement 11-9. */
const LAUNCHES_24 = {
  temp: [53, 56, 57, 63, 66, 67, 67, 67, 68, 69, 70, 70, 70, 70, 72, 73, 75, 75, 76, 76, 78, 79, 80, 81],
  failed: [1, 1, 1, 0, 0, 0, 0, 0, 0, 0, 0, 1, 1, 1, 0, 0, 0, 1, 0, 0, 0, 0, 0, 0],
};

const withConstant = (x: readonly number[]): number[][] => x.map((value) => [1, value]);

function digits(values: readonly number[], decimals: readonly number[]): string[] {
  return values.map((value, i) => value.toFixed(decimals[i]));
}

describe('logistic regression against published fits', () => {
  it('gives every printed digit of the 23 flights, yes or no', () => {
    const y = FLIGHTS_23.damaged.map((count) => (count > 0 ? 1 : 0));
    const fit = logistic(withConstant(FLIGHTS_23.temp), y);
    expect(digits(fit.coefficients, [4, 4])).toEqual(['15.0429', '-0.2322']);
    expect(digits(fit.standardErrors, [4, 4])).toEqual(['7.3786', '0.1082']);
    expect(digits(fit.zRatios, [3, 3])).toEqual(['2.039', '-2.145']);
    expect(digits(fit.pValues, [4, 4])).toEqual(['0.0415', '0.0320']);
    expect(fit.nullDeviance!.toFixed(3)).toBe('28.267');
    expect(fit.residualDeviance.toFixed(3)).toBe('20.315');
    // 120-digit arithmetic, rounded to double.
    expect(fit.coefficients[0]).toBeCloseTo(15.042901647702442, 11);
    expect(fit.coefficients[1]).toBeCloseTo(-0.23216274421859648, 13);
    expect(fit.covariance[0][1]).toBeCloseTo(-0.7963868253193941, 12);
    expect(fit.logLikelihood).toBeCloseTo(-10.157596343933415, 12);
  });

  it('gives the published grouped fit of damaged O-rings out of six', () => {
    const trials = FLIGHTS_23.temp.map(() => 6);
    const fit = logistic(withConstant(FLIGHTS_23.temp), FLIGHTS_23.damaged, { trials });
    expect(digits(fit.coefficients, [4, 4])).toEqual(['11.6630', '-0.2162']);
    expect(digits(fit.standardErrors, [4, 4])).toEqual(['3.2963', '0.0532']);
    expect(fit.residualDeviance).toBeCloseTo(16.912278528864853, 11);
    expect(fit.nullDeviance).toBeCloseTo(38.897659596572566, 11);
    // R prints AIC 33.67 for this fit (from memory).
    expect(fit.aic.toFixed(2)).toBe('33.67');
  });

  it('gives every printed digit of the 24 launches', () => {
    const fit = logistic(withConstant(LAUNCHES_24.temp), LAUNCHES_24.failed);
    expect(digits(fit.coefficients, [3, 5])).toEqual(['10.875', '-0.17132']);
    expect(digits(fit.standardErrors, [3, 5])).toEqual(['5.703', '0.08344']);
    expect(digits(fit.zRatios, [2, 2])).toEqual(['1.91', '-2.05']);
    expect(digits(fit.pValues, [3, 3])).toEqual(['0.057', '0.040']);
    expect(fit.logLikelihood.toFixed(3)).toBe('-11.515');
    expect(fit.likelihoodRatio!.toFixed(3)).toBe('5.944');
  });

  it('is the same whether tries are rows or counts', () => {
    const rows = [1, 2, 3, 4].map((x) => [1, x]);
    const grouped = logistic(rows, [1, 2, 2, 4], { trials: [5, 5, 5, 5] });
    const single = rows.flatMap((row, i) =>
      Array.from({ length: 5 }, (_, k) => ({ row, y: k < [1, 2, 2, 4][i] ? 1 : 0 })),
    );
    const plain = logistic(
      single.map(({ row }) => row),
      single.map(({ y }) => y),
    );
    expect(plain.coefficients[1]).toBeCloseTo(grouped.coefficients[1], 11);
    expect(plain.standardErrors[0]).toBeCloseTo(grouped.standardErrors[0], 11);
    expect(plain.logLikelihood).toBeCloseTo(grouped.logLikelihood, 11);
  });

  it('keeps its digits when the column is far from zero and narrow', () => {
    const y = [0, 0, 1, 0, 1, 0, 1, 1];
    const near = logistic(
      y.map((_, i) => [1, i]),
      y,
    );
    const far = logistic(
      y.map((_, i) => [1, 1e6 + 0.001 * i]),
      y,
    );
    expect(far.coefficients[1] * 0.001).toBeCloseTo(near.coefficients[1], 6);
  });
});

describe("the penalised fit (Jeffreys' prior)", () => {
  it('equals one half added to each cell of a 2 × 2 table', () => {
    // Saturated case: Firth, Biometrika 80 (1993), section 3.3: the penalty adds one half to every count.
    for (const [a, b, n] of [
      [0, 5, 5],
      [3, 9, 10],
      [0, 0, 7],
      [2, 2, 4],
    ]) {
      const fit = logistic(
        [
          [1, 0],
          [1, 1],
        ],
        [a, b],
        { trials: [n, n], penalty: 'firth' },
      );
      const logit = (k: number): number => Math.log((k + 0.5) / (n - k + 0.5));
      expect(fit.coefficients[0]).toBeCloseTo(logit(a), 7);
      expect(fit.coefficients[1]).toBeCloseTo(logit(b) - logit(a), 7);
    }
  });

  it('is finite and symmetric for parted data, where the plain fit refuses', () => {
    const rows = withConstant([1, 2, 3, 4, 5, 6]);
    const y = [0, 0, 0, 1, 1, 1];
    expect(() => logistic(rows, y)).toThrow(expect.objectContaining({ code: 'SEPARATED_DATA' }));
    const fit = logistic(rows, y, { penalty: 'firth' });
    expect(-fit.coefficients[0] / fit.coefficients[1]).toBeCloseTo(3.5, 7);
    expect(fit.coefficients[1]).toBeGreaterThan(0.5);
    expect(fit.coefficients[1]).toBeLessThan(3);
  });

  it('maximises likelihood times the root of the information, checked by a search that knows nothing of scores', () => {
    const x = [1, 2, 3, 4, 5, 6, 7];
    const y = [0, 0, 1, 0, 1, 1, 1];
    const fit = logistic(withConstant(x), y, { penalty: 'firth' });
    const objective = (a: number, b: number): number => {
      let [l, i00, i01, i11] = [0, 0, 0, 0];
      x.forEach((value, i) => {
        const p = 1 / (1 + Math.exp(-a - b * value));
        l += y[i] ? Math.log(p) : Math.log(1 - p);
        i00 += p * (1 - p);
        i01 += p * (1 - p) * value;
        i11 += p * (1 - p) * value * value;
      });
      return l + 0.5 * Math.log(i00 * i11 - i01 * i01);
    };
    const [a, b] = fit.coefficients;
    const top = objective(a, b);
    expect(fit.penalisedLogLikelihood).toBeCloseTo(top, 10);
    for (const [da, db] of [
      [1e-3, 0],
      [-1e-3, 0],
      [0, 1e-3],
      [0, -1e-3],
      [1e-3, -1e-3],
    ]) {
      expect(objective(a + da, b + db)).toBeLessThan(top);
    }
  });
});

describe('what logistic regression refuses', () => {
  const rows = withConstant([1, 2, 3, 4, 5, 6]);
  it.each([
    ['all results alike', rows, [0, 0, 0, 0, 0, 0], 'SEPARATED_DATA'],
    ['results parted but for one place', withConstant([1, 2, 3, 3, 4, 5]), [0, 0, 0, 1, 1, 1], 'SEPARATED_DATA'],
    ['a yes/no column that decides one side', withConstant([1, 1, 1, 1, 0, 0]), [1, 1, 1, 1, 0, 1], 'SEPARATED_DATA'],
    ['a column twice', [1, 2, 3, 4].map((x) => [1, x, 2 * x]), [0, 1, 0, 1], 'RANK_DEFICIENT'],
    ['a column of zeros', [1, 2, 3, 4].map(() => [1, 0]), [0, 1, 0, 1], 'RANK_DEFICIENT'],
    ['results missing', rows, [0, 1], 'LENGTH_MISMATCH'],
    [
      'a value that is no number',
      [
        [1, Number.NaN],
        [1, 2],
      ],
      [0, 1],
      'NOT_FINITE',
    ],
    [
      'a result of 2',
      [
        [1, 1],
        [1, 2],
      ],
      [0, 2],
      'NOT_A_RESULT',
    ],
    ['fewer rows than columns', [[1, 1, 2]], [1], 'TOO_FEW_ROWS'],
  ])('when there is %s', (_, x, y, code) => {
    expect(() => logistic(x as number[][], y as number[])).toThrow(expect.objectContaining({ code }));
  });
});
