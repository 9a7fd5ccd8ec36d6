import { leastSquares } from '../linear/least-squares.js';
import { fisherUpper } from '../statistics/student-t.js';
import { linearise } from './gauss-newton.js';
import { type CalibrationModel, calibrationModel } from './models.js';
import type { Observation } from './observations.js';
import type { WeightedFit } from './weighted-fit.js';

/** One model of a row of nested ones. */
export interface ModelComparison {
  readonly name: string;
  /** Fitted parameters. */
  readonly parameters: number;
  /** Weighted sum of squares left over. */
  readonly residualSumOfSquares: number;
  /** Corrected Akaike information, up to a constant common to all: smaller is better. */
  readonly aicc: number;
  /** Against the model before it: is what this one adds more than chance? */
  readonly f?: number;
  readonly p?: number;
  /** The one that gave the answer. */
  readonly taken: boolean;
  readonly sentence: string;
}

/** Far below 0.05: eight models are looked at, and only what is worth acting on should be told. */
const SURE = 0.001;

interface Step {
  readonly name: string;
  readonly model: CalibrationModel;
  readonly extra?: 'span-constant' | 'field';
}

const STEPS: readonly Step[] = [
  { name: 'one scale', model: calibrationModel('one', 'none', 'none') },
  { name: '+ one kerf', model: calibrationModel('one', 'none', 'one') },
  { name: '+ a kerf for each axis', model: calibrationModel('one', 'none', 'two') },
  { name: '+ a scale for each axis', model: calibrationModel('two', 'none', 'two') },
  { name: '+ shear', model: calibrationModel('two', 'free', 'two') },
  { name: '+ a constant on spans', model: calibrationModel('two', 'free', 'two'), extra: 'span-constant' },
  { name: '+ second-order field', model: calibrationModel('two', 'free', 'two'), extra: 'field' },
];

/**
 * Fits nested models with the weights of the chosen one and compares each with the one before it, by the F test of
 * extra sums of squares and by AICc.
 *
 * Source: N. R. Draper, H. Smith, Applied Regression Analysis, 2nd ed. (1981), 2.7; C. M. Hurvich, C.-L. Tsai,
 * Biometrika 76 (1989) 297-307.
 */
export function compareModels(lengths: readonly Observation[], fit: WeightedFit): ModelComparison[] {
  const readings = Float64Array.from(lengths, ({ valueMm }) => valueMm);
  const weights = Array.from(fit.weights.subarray(0, lengths.length));
  const count = lengths.length;
  const comparisons: ModelComparison[] = [];
  let before: { rss: number; rank: number } | undefined;
  for (const { name, model, extra } of STEPS) {
    const state = linearise(model, lengths, readings, fit.weights, fit.solved.parameters);
    const added = extra === undefined ? [] : extraColumns(extra, lengths);
    const rows = lengths.map((_, i) => [
      ...state.columns.map((column) => column[i]),
      ...added.map((column) => column[i]),
    ]);
    const solved = leastSquares(rows, Array.from(state.residuals), { weights, rankTolerance: 1e-8 });
    if (solved.dof < 2 || (before && solved.rank <= before.rank)) continue;
    const rss = solved.residualSumOfSquares;
    const k = solved.rank + 1;
    const aicc =
      count * Math.log(Math.max(rss, 1e-300) / count) + 2 * k + (2 * k * (k + 1)) / Math.max(1, count - k - 1);
    const test = before && extraSum(before, { rss, rank: solved.rank }, solved.dof);
    comparisons.push({
      name,
      parameters: solved.rank,
      residualSumOfSquares: rss,
      aicc,
      ...(test ?? {}),
      taken: extra === undefined && sameParameters(model, fit.model),
      sentence: sentenceFor(name, test),
    });
    // A larger model outside the profile's five numbers is compared with these five, not with another such model.
    if (extra === undefined) before = { rss, rank: solved.rank };
  }
  return comparisons;
}

function sameParameters(a: CalibrationModel, b: CalibrationModel): boolean {
  return a.freeNames.join() === b.freeNames.join();
}

function extraSum(
  small: { rss: number; rank: number },
  large: { rss: number; rank: number },
  dof: number,
): { f: number; p: number } {
  const more = large.rank - small.rank;
  const f = Math.max(0, small.rss - large.rss) / more / (large.rss / dof);
  return { f, p: fisherUpper(f, more, dof) };
}

function sentenceFor(name: string, test: { f: number; p: number } | undefined): string {
  if (!test) return `${name}: where the comparison starts`;
  const p = test.p < 0.0001 ? 'p < 0.0001' : `p = ${test.p.toPrecision(2)}`;
  const verdict = test.p < SURE ? 'needed' : test.p < 0.05 ? 'perhaps needed' : 'not seen in these readings';
  return `${name}: ${verdict} (F = ${test.f.toPrecision(3)}, ${p})`;
}

/** Models beyond the five numbers that these readings surely ask for. */
export function surelyNeeded(comparisons: readonly ModelComparison[]): ModelComparison[] {
  const taken = comparisons.findIndex(({ taken: isTaken }) => isTaken);
  return comparisons.filter(
    ({ p, aicc }, i) => i > taken && taken >= 0 && p !== undefined && p < SURE && aicc < comparisons[taken].aicc,
  );
}

function extraColumns(extra: 'span-constant' | 'field', lengths: readonly Observation[]): number[][] {
  if (extra === 'span-constant') return [lengths.map(({ kind }) => (kind === 'span' ? 1 : 0))];
  const terms: ((x: number, y: number) => number)[] = [(x) => x * x, (x, y) => x * y, (_, y) => y * y];
  return [0, 1].flatMap((axis) =>
    terms.map((term) =>
      lengths.map(({ feature, dx, dy }) => {
        if (feature.kind === 'cell' || feature.kind === 'vernier') return 0;
        const [[x0, y0], [x1, y1]] = [feature.from, feature.to];
        const along = (axis === 0 ? dx : dy) / Math.hypot(dx, dy);
        // In units of 100 mm, so that the columns are of like size.
        return along * (term(x1 / 100, y1 / 100) - term(x0 / 100, y0 / 100));
      }),
    ),
  );
}
