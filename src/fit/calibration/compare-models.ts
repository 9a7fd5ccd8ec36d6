import { leastSquares } from '../linear/least-squares.js';
import { chanceWords, fisherUpper } from '../statistics/distributions.js';
import type { WeightedFit } from './weighted-fit.js';

/** One model of a row of nested ones. */
export interface ModelComparison {
  readonly name: string;
  /** Fitted parameters. */
  readonly parameters: number;
  /** Weighted sum of squares left over. */
  readonly residualSumOfSquares: number;
  /** The same over its degrees of freedom: about 1 when the weights are right and the model holds. */
  readonly meanSquare: number;
  /** Corrected Akaike information, up to a constant common to all: smaller is better. */
  readonly aicc: number;
  /** Against the model before it: is what this one adds more than chance? */
  readonly f?: number;
  readonly p?: number;
  /** The largest: the one that gave the answer, whatever the smaller ones say. */
  readonly taken: boolean;
  readonly sentence: string;
}

const SURE = 0.001;

/** For each model: which of the five move together. */
const STEPS: readonly { readonly name: string; readonly sums: readonly (readonly number[])[] }[] = [
  { name: 'one scale', sums: [[0, 1]] },
  { name: '+ a scale for each axis', sums: [[0], [1]] },
  { name: '+ one kerf', sums: [[0], [1], [3, 4]] },
  { name: '+ a kerf for each axis', sums: [[0], [1], [3], [4]] },
  { name: '+ shear', sums: [[0], [1], [3], [4], [2]] },
];

/**
 * Fits nested models with one set of weights, each with the zeros and the limits of the gauges, and compares each with the one before
 * it by the F test of extra sums of squares (against what the largest leaves over) and by AICc.
 *
 * Source: N. R. Draper, H. Smith, Applied Regression Analysis, 2nd ed. (1981), 2.7; C. M. Hurvich, C.-L. Tsai,
 * Biometrika 76 (1989) 297-307.
 */
export function compareModels({ columns, residuals, weights, parameters, design }: WeightedFit): ModelComparison[] {
  const count = residuals.length;
  const terms = parameters.map((_, k) => [k]).slice(5);
  // A gauge's limit of error counts beside the readings: its length error, left free, would explain every one of them.
  const stated = design.priors.flatMap(({ coefficients }, row) =>
    coefficients.every(([k]) => k >= 5) ? [count + row] : [],
  );
  const used = [...residuals.keys(), ...stated];
  // What the five numbers do to each reading, about the fit: the model is nearly linear.
  const working = used.map((i) =>
    i < count
      ? residuals[i] + columns.reduce((sum, column, k) => sum + column[i] * parameters[k], 0)
      : design.priors[i - count].value,
  );
  const own = used.map((i) => weights[i]);
  const solved = STEPS.flatMap(({ name, sums }) => {
    const groups = [...sums, ...terms];
    const rows = used.map((i) => groups.map((group) => group.reduce((sum, k) => sum + columns[k][i], 0)));
    const fit = leastSquares(rows, working, { weights: own, rankTolerance: 1e-6 });
    return [{ name, rss: fit.residualSumOfSquares, rank: fit.rank, dof: fit.dof }];
  }).filter((step, i, all) => step.dof >= 2 && all.slice(0, i).every(({ rank }) => rank < step.rank));
  const largest = solved.at(-1);
  return solved.map((one, i): ModelComparison => {
    const before = solved[i - 1];
    const k = one.rank + 1;
    const correction = (2 * k * (k + 1)) / Math.max(1, count - k - 1);
    const test = before && largest ? extraSum(before, one, largest) : undefined;
    return {
      name: one.name,
      parameters: one.rank,
      residualSumOfSquares: one.rss,
      meanSquare: one.rss / one.dof,
      aicc: count * Math.log(Math.max(one.rss, 1e-300) / count) + 2 * k + correction,
      ...(test ?? {}),
      taken: one === largest,
      sentence: sentenceFor(one.name, test),
    };
  });
}

interface Solved {
  readonly rss: number;
  readonly rank: number;
  readonly dof: number;
}

function extraSum(small: Solved, large: Solved, largest: Solved): { f: number; p: number } {
  const more = large.rank - small.rank;
  const f = Math.max(0, small.rss - large.rss) / more / (largest.rss / largest.dof);
  return { f, p: fisherUpper(f, more, largest.dof) };
}

function sentenceFor(name: string, test: { f: number; p: number } | undefined): string {
  if (!test) return `${name}: where the comparison starts`;
  const verdict = test.p < SURE ? 'needed' : test.p < 0.05 ? 'perhaps needed' : 'not seen in these readings';
  return `${name}: ${verdict} (F = ${test.f.toPrecision(3)}, ${chanceWords(test.p)})`;
}
