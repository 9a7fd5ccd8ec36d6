import { readFileSync } from 'node:fs';
import { all, create, type MathType } from 'mathjs';
import { SingularValueDecomposition } from 'ml-matrix';
import { describe, expect, it } from 'vitest';
import { leastSquares } from '../../../src/fit/linear/least-squares.js';
import { gaussian, seeded } from '../../virtual-laser/random.js';
import { exactPolynomial } from './exact.js';

interface StrdSet {
  design: { kind: string; degree?: number; intercept: boolean };
  data: { y: number[]; x: number[][] };
  certified: { beta: string[]; se: string[]; residualSd: string; rSquared: string };
}

function published<T>(name: string): T {
  return JSON.parse(readFileSync(new URL(`../published/${name}.json`, import.meta.url), 'utf8')) as T;
}

/** Correct decimal digits, as NIST counts them: -log10 of the relative error. */
function digits(found: number, wanted: number): number {
  if (found === wanted) return 16;
  return -Math.log10(Math.abs(found - wanted) / (wanted === 0 ? 1 : Math.abs(wanted)));
}

function designOf({ design, data }: StrdSet): number[][] {
  const degree = design.degree ?? 1;
  const first = design.intercept ? 0 : 1;
  return data.x.map((x) =>
    design.kind === 'polynomial' && degree > 1
      ? Array.from({ length: degree + 1 - first }, (_, k) => x[0] ** (k + first))
      : [...(design.intercept ? [1] : []), ...x],
  );
}

describe('leastSquares on the NIST/ITL Statistical Reference Datasets, linear regression', () => {
  // Digits to ask for: the certified values have 15; Longley's decimals lose some when they become doubles.
  const sets: [name: string, wanted: number][] = [
    ['norris', 13],
    ['noint1', 13],
    ['longley', 12],
    ['wampler1', 14],
    ['wampler4', 13],
    ['filip', 13],
  ];
  it.each(sets)('%s agrees to %d digits in every certified value', (name, wanted) => {
    const set = published<StrdSet>(name);
    const fit = leastSquares(designOf(set), set.data.y);
    set.certified.beta.forEach((beta, j) => {
      expect(digits(fit.coefficients[j], Number(beta)), `coefficient ${j}`).toBeGreaterThan(wanted);
    });
    set.certified.se.forEach((se, j) => {
      expect(digits(fit.standardErrors[j], Number(se)), `standard error ${j}`).toBeGreaterThan(wanted);
    });
    expect(digits(fit.residualSd, Number(set.certified.residualSd))).toBeGreaterThan(wanted);
    expect(digits(fit.rSquared, Number(set.certified.rSquared))).toBeGreaterThan(wanted);
    expect(fit.rank).toBe(set.certified.beta.length);
  });
});

describe('leastSquares on the Wampler sets that are not in the files', () => {
  // StRD Wampler 2, 3 and 5: y from the polynomial and, for 3 and 5, Wampler's disturbance (from memory) times 1 and
  // 10,000; certified standard errors from memory. Coefficients are exact: 0.1^k for 2, else 1.
  const disturbance = [
    759, -2048, 2048, -2048, 2523, -2048, 2048, -2048, 1838, -2048, 2048, -2048, 1838, -2048, 2048, -2048, 2523, -2048,
    2048, -2048, 759,
  ];
  const ofOne = ['2152.32624678170', '2363.55173469681', '779.343524331583', '101.475507550350', '5.64566512170752', '0.112324854679312']; // biome-ignore format: one line
  const sets: [name: string, root: number, times: number][] = [
    ['wampler2', 0.1, 0],
    ['wampler3', 1, 1],
    ['wampler5', 1, 10_000],
  ];
  it.each(sets)('%s agrees to 13 digits', (_name, root, times) => {
    const rows = disturbance.map((_, x) => Array.from({ length: 6 }, (_, k) => x ** k));
    const y = rows.map((row, x) => Number(row.reduce((sum, power, k) => sum + root ** k * power, 0).toFixed(5)) + times * disturbance[x]); // biome-ignore format: one line
    const fit = leastSquares(rows, y);
    fit.coefficients.forEach((b, k) => {
      expect(digits(b, Number((root ** k).toFixed(5)))).toBeGreaterThan(13);
    });
    if (times === 0) expect(fit.residualSd).toBeLessThan(1e-14);
    else {
      fit.standardErrors.forEach((se, k) => {
        expect(digits(se, times * Number(ofOne[k]))).toBeGreaterThan(13);
      });
    }
  });
});

describe('leastSquares on ill-conditioned polynomials, against exact rational arithmetic', () => {
  const random = seeded(20);
  const cases: [what: string, low: number, high: number, degree: number, points: number, wanted: number][] = [
    ['degree 10 over -8.8 to -3.1', -8.8, -3.1, 10, 82, 11],
    ['degree 5 over 0 to 20', 0, 20, 5, 21, 13],
    ['degree 3 over 1000 to 1010', 1000, 1010, 3, 40, 9],
    ['a line over 100000 to 100001', 100000, 100001, 1, 30, 9],
  ];
  it.each(cases)('%s', (_what, low, high, degree, points, wanted) => {
    const x = Array.from({ length: points }, (_, i) => (low + ((high - low) * i) / (points - 1)).toFixed(9));
    const y = x.map((_, i) => (0.8 + 0.1 * Math.sin(i / 7) + 0.003 * gaussian(random)).toFixed(4));
    const exact = exactPolynomial(x, y, degree, 9);
    const rows = x.map((text) => Array.from({ length: degree + 1 }, (_, k) => Number(text) ** k));
    const fit = leastSquares(rows, y.map(Number));
    expect(fit.rank).toBe(degree + 1);
    expect(Math.min(...exact.coefficients.map((b, k) => digits(fit.coefficients[k], b)))).toBeGreaterThan(wanted);
    expect(Math.min(...exact.standardErrors.map((b, k) => digits(fit.standardErrors[k], b)))).toBeGreaterThan(wanted);
    expect(digits(fit.residualSd, exact.residualSd)).toBeGreaterThan(8);
  });

  it('warns with the digits that are sure when the columns nearly depend on each other', () => {
    const x = Array.from({ length: 40 }, (_, i) => 1000 + i / 4);
    const fit = leastSquares(
      x.map((v, i) => [1, v, v + 1e-7 * Math.sin(i)]),
      x.map(Math.sin),
    );
    expect(fit.warnings.map(({ code }) => code)).toEqual(['ILL_CONDITIONED']);
  });
});

describe('leastSquares against general-purpose libraries', () => {
  const random = seeded(4);
  const rows = Array.from({ length: 30 }, () => [1, random(), random() * 50, gaussian(random)]);
  const y = rows.map((row) => 2 + 3 * row[1] - 0.1 * row[2] + 0.5 * row[3] + 0.2 * gaussian(random));
  const weights = rows.map(() => 0.2 + random());

  it('agrees with a QR solution by mathjs', () => {
    const math = create(all);
    const { Q, R } = math.qr(math.matrix(rows));
    const right = math.multiply(math.transpose(Q), math.matrix(y)) as unknown as MathType;
    const [top, upper] = [right, R].map((m) =>
      (m as unknown as { toArray(): number[] | number[][] }).toArray().slice(0, 4),
    );
    const solved = math.usolve(upper as number[][], top as number[]) as unknown as number[][];
    const fit = leastSquares(rows, y);
    solved.flat().forEach((value, j) => {
      expect(fit.coefficients[j]).toBeCloseTo(value, 10);
    });
  });

  it('has the condition number of the columns brought to length 1, as the SVD of ml-matrix gives it', () => {
    const lengths = rows[0].map((_, j) => Math.hypot(...rows.map((row) => row[j])));
    const values = new SingularValueDecomposition(rows.map((row) => row.map((v, j) => v / lengths[j]))).diagonal;
    expect(leastSquares(rows, y).conditionNumber).toBeCloseTo(values[0] / values[3], 8);
  });

  it('with weights gives what rows multiplied by their roots give', () => {
    const weighted = leastSquares(rows, y, { weights });
    const scaled = leastSquares(
      rows.map((row, i) => row.map((v) => v * Math.sqrt(weights[i]))),
      y.map((v, i) => v * Math.sqrt(weights[i])),
    );
    weighted.coefficients.forEach((value, j) => {
      expect(value).toBeCloseTo(scaled.coefficients[j], 12);
      expect(weighted.standardErrors[j]).toBeCloseTo(scaled.standardErrors[j], 12);
    });
    expect(weighted.residuals[3]).toBeCloseTo(scaled.residuals[3] / Math.sqrt(weights[3]), 12);
  });

  it('gives deleted residuals equal to leaving the row out, and leverages that add up to the rank', () => {
    const fit = leastSquares(rows, y);
    expect(fit.leverages.reduce((sum, h) => sum + h, 0)).toBeCloseTo(4, 12);
    const without = leastSquares(rows.slice(1), y.slice(1));
    const predicted = rows[0].reduce((sum, v, j) => sum + v * without.coefficients[j], 0);
    const spread = rows[0].reduce(
      (sum, v, j) => sum + v * rows[0].reduce((inner, w, k) => inner + w * without.covariance[j][k], 0),
      without.residualSd ** 2,
    );
    expect(fit.deletedStudentised[0]).toBeCloseTo((y[0] - predicted) / Math.sqrt(spread), 10);
  });
});

describe('leastSquares on published worked examples', () => {
  it('gives every printed digit of the thermometer calibration in JCGM 100:2008 (GUM), H.3', () => {
    const gum = published<{
      t0: number;
      data: { t: number[]; b: number[] };
      computed: Record<string, string>;
      published: Record<string, { value: string } & { b: { value: string }; u: { value: string } }>;
    }>('gum-h3');
    const fit = leastSquares(
      gum.data.t.map((t) => [1, t - gum.t0]),
      gum.data.b,
    );
    const [y1, y2] = fit.coefficients;
    expect(y1.toFixed(4)).toBe(gum.published.y1.value);
    expect(fit.standardErrors[0].toFixed(4)).toBe(gum.published.se_y1.value);
    expect(y2.toFixed(5)).toBe(gum.published.y2.value);
    expect(fit.standardErrors[1].toFixed(5)).toBe(gum.published.se_y2.value);
    expect(fit.residualSd.toFixed(4)).toBe(gum.published.residualSd.value);
    const [[aa, ab], [, bb]] = fit.covariance;
    expect((ab / Math.sqrt(aa * bb)).toFixed(3)).toBe(gum.published.r.value);
    expect((y1 + 10 * y2).toFixed(4)).toBe(gum.published.predictAt30.b.value);
    expect(Math.sqrt(aa + 20 * ab + 100 * bb).toFixed(4)).toBe(gum.published.predictAt30.u.value);
    expect(digits(y1, Number(gum.computed.y1))).toBeGreaterThan(12);
    expect(digits(fit.standardErrors[1], Number(gum.computed.se_y2))).toBeGreaterThan(12);
  });

  it('gives every printed digit of the line-width calibration, NIST/SEMATECH e-Handbook 2.3.6.7.2', () => {
    const { calibration } = published<{
      calibration: { data: [number, number][]; published: Record<string, string> & { cov: Record<string, string> } };
    }>('nist-linewidth');
    const fit = leastSquares(
      calibration.data.map(([x]) => [1, x]),
      calibration.data.map(([, y]) => y),
    );
    const { a, b, se_a, se_b, residualSd, cov } = calibration.published;
    expect(fit.coefficients[0].toFixed(7)).toBe(a);
    expect(fit.coefficients[1].toFixed(7)).toBe(b);
    expect(fit.standardErrors[0].toFixed(8)).toBe(se_a);
    expect(fit.standardErrors[1].toFixed(8)).toBe(se_b);
    expect(fit.residualSd.toFixed(5)).toBe(residualSd);
    expect(digits(fit.covariance[0][0], Number(cov.aa))).toBeGreaterThan(6.3);
    expect(digits(fit.covariance[0][1], Number(cov.ab))).toBeGreaterThan(6.3);
    expect(digits(fit.covariance[1][1], Number(cov.bb))).toBeGreaterThan(6.3);
  });
});

describe('leastSquares when columns depend on each other', () => {
  const x = Array.from({ length: 12 }, (_, i) => i / 3);
  const y = x.map((v, i) => 1 + 2 * v + 0.01 * (i % 3));

  it('names the column and those that it depends on, and gives it no coefficient', () => {
    const fit = leastSquares(
      x.map((v, i) => [1, v, 0.1 * v + 0.3, i * i]),
      y,
      { names: ['constant', 'size', 'kerf', 'place'] },
    );
    expect(fit.rank).toBe(3);
    expect(fit.coefficients[2]).toBeNaN();
    expect(fit.standardErrors[2]).toBeNaN();
    expect(fit.dependentColumns).toEqual([{ index: 2, name: 'kerf', on: ['constant', 'size'] }]);
    expect(fit.warnings[0]).toMatchObject({ code: 'RANK_DEFICIENT', place: { key: 'kerf' } });
    const small = leastSquares(
      x.map((v, i) => [1, v, i * i]),
      y,
    );
    expect(fit.coefficients[3]).toBeCloseTo(small.coefficients[2], 12);
    expect(fit.residualSd).toBeCloseTo(small.residualSd, 12);
  });

  it('says of an empty column that it is zero', () => {
    const fit = leastSquares(
      x.map((v) => [1, 0, v]),
      y,
    );
    expect(fit.warnings[0].message).toMatch(/column 2 is zero/);
  });

  it('with fewer rows than columns keeps what the rows can tell', () => {
    expect(leastSquares([[1, 2, 5]], [3]).rank).toBe(1);
  });
});

describe('leastSquares refuses', () => {
  const cases: [what: string, call: () => unknown, code: string][] = [
    ['no rows', () => leastSquares([], []), 'NO_ROWS'],
    ['too few observations', () => leastSquares([[1], [1]], [1]), 'LENGTH_MISMATCH'],
    ['rows of different length', () => leastSquares([[1, 2], [1]], [1, 2]), 'LENGTH_MISMATCH'],
    ['a number that is none', () => leastSquares([[1], [Number.NaN]], [1, 2]), 'NOT_FINITE'],
    ['an infinite observation', () => leastSquares([[1], [1]], [1, Number.POSITIVE_INFINITY]), 'NOT_FINITE'],
    ['a weight of zero', () => leastSquares([[1], [1]], [1, 2], { weights: [1, 0] }), 'WEIGHT_NOT_POSITIVE'],
  ];
  it.each(cases)('%s', (_what, call, code) => {
    expect(call).toThrow(expect.objectContaining({ code }));
  });
});

describe('leastSquares whatever the units', () => {
  it('gives the same answer from huge and from tiny numbers', () => {
    const x = [1, 2, 3, 4, 5];
    const y = [2.1, 3.9, 6.2, 7.8, 10.1];
    const base = leastSquares(
      x.map((v) => [1, v]),
      y,
    );
    for (const [a, b] of [
      [1e150, 1e-140],
      [1e-150, 1e140],
    ]) {
      const fit = leastSquares(
        x.map((v) => [1, v * a]),
        y.map((v) => v * b),
      );
      expect(digits(fit.coefficients[1], (base.coefficients[1] * b) / a)).toBeGreaterThan(13);
      expect(digits(fit.residualSd, base.residualSd * b)).toBeGreaterThan(12);
    }
  });
});
