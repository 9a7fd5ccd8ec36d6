import { leastSquares } from '../linear/least-squares.js';
import { fisherUpper } from '../statistics/student-t.js';
import { linearise } from './gauss-newton.js';
import { type CalibrationModel, calibrationModel } from './models.js';
import type { Observation } from './observations.js';

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
  { name: '+ a scale for each axis', model: calibrationModel('two', 'none', 'none') },
  { name: '+ one kerf', model: calibrationModel('two', 'none', 'one') },
  { name: '+ a kerf for each axis', model: calibrationModel('two', 'none', 'two') },
  { name: '+ shear', model: calibrationModel('two', 'free', 'two') },
  { name: '+ a constant on spans', model: calibrationModel('two', 'free', 'two'), extra: 'span-constant' },
  { name: '+ second-order field', model: calibrationModel('two', 'free', 'two'), extra: 'field' },
];

/** What the chosen fit says of each reading: where it was taken, and how much it weighs. */
export interface ModelBasis {
  readonly model: CalibrationModel;
  readonly parameters: readonly number[];
  /** 1/variance of each reading, 1/mm². */
  readonly weights: Float64Array;
}

interface Solved {
  readonly step: Step;
  readonly rss: number;
  readonly rank: number;
  readonly dof: number;
}

/**
 * Fits nested models with one set of weights and compares each with the one before it, by the F test of extra sums of
 * squares (against what the chosen model leaves over) and by AICc. The last two are compared with the five numbers.
 *
 * Source: N. R. Draper, H. Smith, Applied Regression Analysis, 2nd ed. (1981), 2.7; C. M. Hurvich, C.-L. Tsai,
 * Biometrika 76 (1989) 297-307.
 */
export function compareModels(lengths: readonly Observation[], basis: ModelBasis): ModelComparison[] {
  const solved = solveSteps(lengths, basis);
  const isTaken = ({ step }: Solved): boolean => step.extra === undefined && sameParameters(step.model, basis.model);
  const taken = solved.find(isTaken) ?? solved.filter(({ step }) => step.extra === undefined).at(-1);
  if (!taken) return [];
  const count = lengths.length;
  return solved.map((one, i): ModelComparison => {
    const before = one.step.extra === undefined ? solved[i - 1] : taken;
    const scale = one.step.extra === undefined ? taken : one;
    const k = one.rank + 1;
    const correction = (2 * k * (k + 1)) / Math.max(1, count - k - 1);
    const test = before && one !== before ? extraSum(before, one, scale.rss / scale.dof, scale.dof) : undefined;
    return {
      name: one.step.name,
      parameters: one.rank,
      residualSumOfSquares: one.rss,
      meanSquare: one.rss / one.dof,
      aicc: count * Math.log(Math.max(one.rss, 1e-300) / count) + 2 * k + correction,
      ...(test ?? {}),
      taken: isTaken(one),
      sentence: sentenceFor(one.step.name, test),
    };
  });
}

/** The steps that add something these readings can tell. */
function solveSteps(lengths: readonly Observation[], { parameters, weights }: ModelBasis): Solved[] {
  const readings = Float64Array.from(lengths, ({ valueMm }) => valueMm);
  const solved: Solved[] = [];
  for (const step of STEPS) {
    const state = linearise(step.model, lengths, readings, weights, parameters);
    const added = step.extra === undefined ? [] : extraColumns(step.extra, lengths);
    const columns = [...state.columns, ...added];
    const rows = lengths.map((_, i) => columns.map((column) => column[i]));
    const fit = leastSquares(rows, Array.from(state.residuals), { weights: Array.from(weights), rankTolerance: 1e-8 });
    const before = solved.filter((one) => one.step.extra === undefined).at(-1);
    if (fit.dof < 2 || (before && fit.rank <= before.rank)) continue;
    solved.push({ step, rss: fit.residualSumOfSquares, rank: fit.rank, dof: fit.dof });
  }
  return solved;
}

function sameParameters(a: CalibrationModel, b: CalibrationModel): boolean {
  return a.freeNames.join() === b.freeNames.join();
}

function extraSum(small: Solved, large: Solved, variance: number, dof: number): { f: number; p: number } {
  const more = large.rank - small.rank;
  const f = Math.max(0, small.rss - large.rss) / more / variance;
  return { f, p: fisherUpper(f, more, dof) };
}

function sentenceFor(name: string, test: { f: number; p: number } | undefined): string {
  if (!test) return `${name}: where the comparison starts`;
  const p = test.p < 0.0001 ? 'p < 0.0001' : `p = ${test.p.toPrecision(2)}`;
  const verdict = test.p < SURE ? 'needed' : test.p < 0.05 ? 'perhaps needed' : 'not seen in these readings';
  return `${name}: ${verdict} (F = ${test.f.toPrecision(3)}, ${p})`;
}

/** A model that leaves over no more than this explains the readings: times what those that belong together leave. */
const EXPLAINS = 2;

/** Models beyond the five numbers that these readings surely ask for, and that explain them. */
export function surelyNeeded(comparisons: readonly ModelComparison[]): ModelComparison[] {
  const taken = comparisons.findIndex(({ taken: isTaken }) => isTaken);
  return comparisons.filter(
    ({ p, aicc, meanSquare }, i) =>
      i > taken && taken >= 0 && p !== undefined && p < SURE && aicc < comparisons[taken].aicc && meanSquare < EXPLAINS,
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
