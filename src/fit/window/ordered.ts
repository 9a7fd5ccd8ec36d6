import type { CholeskyDecomposition } from 'ml-matrix';
import { cholesky, choleskyInverse, choleskyLogDet, choleskySolve, dot } from '../linear/small-matrices.js';
import { expit } from '../statistics/distributions.js';

/** One setting with how often each level was seen there. */
export interface OrderedCell {
  readonly x: readonly number[];
  /** Counts per level, lowest level first. */
  readonly counts: readonly number[];
}

/** A fitted cumulative logit model: ln(P(level ≥ j) / P(level < j)) = rowFor(j, x) · parameters. */
export interface OrderedFit {
  /** levelCount − 1 thresholds, then one slope per x. */
  readonly parameters: readonly number[];
  /** Inverse expected information at the estimate. */
  readonly covariance: readonly (readonly number[])[];
}

const MAX_ITERATIONS = 300;
const LOGIT_TOLERANCE = 1e-8;

/** The design row of boundary j (1 … levels − 1): thresholds first, then slopes. */
function boundaryRow(j: number, x: readonly number[], levelCount: number): number[] {
  const row = new Array<number>(levelCount - 1).fill(0);
  row[j - 1] = 1;
  return [...row, ...x];
}

/** expit(a) − expit(b) for a ≥ b without cancellation; ±Infinity stand for probability 1 and 0. */
function band(a: number, b: number): number {
  if (a === Number.POSITIVE_INFINITY) return expit(-b);
  if (b === Number.NEGATIVE_INFINITY) return expit(a);
  return expit(a) * expit(-b) * -Math.expm1(b - a);
}

/** Probability of every level, given the logits of the boundaries 1 … levels − 1. Where boundaries cross, 0. */
function levelProbabilities(logits: readonly number[]): number[] {
  const edges = [Number.POSITIVE_INFINITY, ...logits, Number.NEGATIVE_INFINITY];
  return edges.slice(0, -1).map((edge, j) => Math.max(0, band(edge, edges[j + 1])));
}

interface State {
  readonly phi: readonly number[];
  readonly score: number[];
  readonly information: number[][];
  readonly lower: CholeskyDecomposition;
  readonly objective: number;
}

type Rows = readonly (readonly (readonly number[])[])[];

/** Likelihood, score and expected information; undefined where a level's probability isn't positive. */
function stateAt(cells: readonly OrderedCell[], rows: Rows, phi: readonly number[]): State | undefined {
  const size = phi.length;
  const score = new Array<number>(size).fill(0);
  const information = Array.from({ length: size }, () => new Array<number>(size).fill(0));
  let logLikelihood = 0;
  for (let i = 0; i < cells.length; i++) {
    const logits = rows[i].map((row) => dot(row, phi));
    const probabilities = levelProbabilities(logits);
    const total = cells[i].counts.reduce((sum, count) => sum + count, 0);
    const slopes = logits.map((eta) => expit(eta) * expit(-eta));
    for (let level = 0; level < probabilities.length; level++) {
      const p = probabilities[level];
      if (!(p > 0)) return undefined;
      const change = new Array<number>(size).fill(0);
      for (let k = 0; k < size; k++) {
        if (level > 0) change[k] += slopes[level - 1] * rows[i][level - 1][k];
        if (level < logits.length) change[k] -= slopes[level] * rows[i][level][k];
      }
      logLikelihood += cells[i].counts[level] * Math.log(p);
      for (let a = 0; a < size; a++) {
        score[a] += (cells[i].counts[level] * change[a]) / p;
        for (let b = 0; b <= a; b++) information[a][b] += (total * change[a] * change[b]) / p;
      }
    }
  }
  for (let a = 0; a < size; a++) for (let b = a + 1; b < size; b++) information[a][b] = information[b][a];
  const lower = cholesky(information, 1e-12);
  if (!lower) return undefined;
  return { phi, score, information, lower, objective: logLikelihood + choleskyLogDet(lower) / 2 };
}

/** Gradient of ½ ln det information by central differences. */
function penaltySlope(cells: readonly OrderedCell[], rows: Rows, phi: readonly number[]): number[] | undefined {
  const slope: number[] = [];
  for (let k = 0; k < phi.length; k++) {
    const h = 1e-5 * Math.max(1, Math.abs(phi[k]));
    const ends = [h, -h].map((move) =>
      stateAt(
        cells,
        rows,
        phi.map((value, j) => (j === k ? value + move : value)),
      ),
    );
    if (!ends[0] || !ends[1]) return undefined;
    slope.push((choleskyLogDet(ends[0].lower) - choleskyLogDet(ends[1].lower)) / (4 * h));
  }
  return slope;
}

/** Thresholds from the shares of the levels, slopes zero: a start where every probability is positive. */
function startAt(cells: readonly OrderedCell[], levelCount: number): number[] {
  const totals = Array.from({ length: levelCount }, (_, level) =>
    cells.reduce((sum, cell) => sum + cell.counts[level] + 0.5, 0),
  );
  const all = totals.reduce((sum, value) => sum + value, 0);
  const thresholds = Array.from({ length: levelCount - 1 }, (_, j) => {
    const above = totals.slice(j + 1).reduce((sum, value) => sum + value, 0) / all;
    return Math.log(above / (1 - above));
  });
  return [...thresholds, ...cells[0].x.map(() => 0)];
}

/**
 * Fits a cumulative logit model with parallel boundaries (proportional odds) to ordered levels, with Jeffreys' prior: the likelihood times the square root of the
 * determinant of the expected information. The answer is finite also when the levels are parted completely, which is
 * the normal case of a power/speed grid.
 *
 * @param cells - settings (x centred and scaled by the caller, about 1 in size) with counts per level; every level seen
 * @returns undefined when the settings can't carry the model (x all alike)
 * @remarks Fisher scoring on the penalised likelihood with step halving. For two levels this is Firth's logistic fit.
 * Sources: McCullagh, J. R. Statist. Soc. B 42 (1980) 109–142; Firth, Biometrika 80 (1993) 27–38.
 */
export function fitOrdered(cells: readonly OrderedCell[]): OrderedFit | undefined {
  const levelCount = cells[0].counts.length;
  const rows = cells.map((cell) =>
    Array.from({ length: levelCount - 1 }, (_, j) => boundaryRow(j + 1, cell.x, levelCount)),
  );
  let state = stateAt(cells, rows, startAt(cells, levelCount));
  for (let iteration = 1; state && iteration <= MAX_ITERATIONS; iteration++) {
    const pull = penaltySlope(cells, rows, state.phi);
    if (!pull) return undefined;
    const step = choleskySolve(
      state.lower,
      state.score.map((value, k) => value + pull[k]),
    );
    const size = Math.max(...rows.flatMap((cell) => cell.map((row) => Math.abs(dot(row, step)))));
    const next = size < LOGIT_TOLERANCE ? state : climbAlong(cells, rows, state, step);
    if (next === state || next === undefined) break;
    state = next;
  }
  return state && { parameters: state.phi, covariance: choleskyInverse(state.lower) };
}

function climbAlong(
  cells: readonly OrderedCell[],
  rows: Rows,
  from: State,
  step: readonly number[],
): State | undefined {
  for (let share = 1; share > 1e-9; share /= 2) {
    const next = stateAt(
      cells,
      rows,
      from.phi.map((value, k) => value + share * step[k]),
    );
    if (next && next.objective > from.objective) return next;
  }
  return undefined;
}
