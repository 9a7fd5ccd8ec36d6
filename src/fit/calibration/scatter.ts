import { LuDecomposition, Matrix, pseudoInverse } from 'ml-matrix';
import { dot } from '../linear/dot.js';
import type { WeightedQr } from '../linear/weighted-qr.js';
import type { FitLength } from './design.js';

/** Readings that share one scatter: those of one gauge. */
export interface ScatterGroup {
  readonly noise: string;
  readonly gauge: string;
  /** Coarsest step among them, mm. */
  readonly resolutionMm: number;
  readonly members: readonly number[];
  /** Nothing beyond rounding. */
  readonly certain: boolean;
}

export function scatterGroups(lengths: readonly FitLength[]): ScatterGroup[] {
  const groups = new Map<string, number[]>();
  lengths.forEach(({ noise }, i) => {
    const members = groups.get(noise);
    if (members) members.push(i);
    else groups.set(noise, [i]);
  });
  return [...groups].map(([noise, members]) => ({
    noise,
    gauge: lengths[members[0]].gauge,
    resolutionMm: Math.max(...members.map((i) => lengths[i].resolutionMm)),
    members,
    certain: members.every((i) => lengths[i].certain === true),
  }));
}

/** Variance of rounding to a step: a uniform distribution of half-width step/2 (GUM, JCGM 100:2008, F.2.2.1). */
export function roundingVariance(stepMm: number): number {
  return (stepMm * stepMm) / 12;
}

/** How the scatter beyond rounding was estimated: variances, and the covariance of these estimates. */
export interface ScatterEstimate {
  readonly variances: readonly number[];
  readonly covariance: readonly (readonly number[])[];
}

/** What is known of the variance of a gauge's readings before it is looked at, worth `dof` readings. */
export interface ScatterPrior {
  readonly variance: number;
  readonly dof: number;
  /** For groups of many readings too. */
  readonly all?: boolean;
  /** For each group: how often the prior counts in how surely its variance is known; once where nothing is said. */
  readonly counts?: readonly number[];
}

/** No gauge of this trade sees a nanometre: keeps weights finite when readings fit exactly. */
export const LEAST_VARIANCE = 1e-12;
/** The scatter of so many readings speaks for itself. */
const ENOUGH_FOR_OWN = 8;
/** A step of the iteration changes no variance by more than this factor, up or down. */
const LARGEST_STEP = 6;

/** Expected information on each group's variance: ½ tr(P D_g P D_h), P the projector onto the residuals. */
function information(
  groups: readonly ScatterGroup[],
  weights: Float64Array,
  columns: readonly Float64Array[],
  qr: WeightedQr,
): number[][] {
  const sums = groups.map(({ members }) => gramOf(members, weights, columns));
  const inGroup = sums.map((sum) => multiply(qr.inverse, sum));
  return groups.map((group, g) =>
    groups.map((_, h) => {
      let total = multiply(inGroup[g], inGroup[h]).reduce((sum, row, j) => sum + row[j], 0);
      if (g === h) for (const i of group.members) total += weights[i] ** 2 * (1 - 2 * qr.leverages[i]);
      return total / 2;
    }),
  );
}

/**
 * One step of restricted maximum likelihood (Fisher scoring) for the groups' variances, with a prior that keeps the
 * variance of a few readings from running off.
 */
export function scatterStep(
  groups: readonly ScatterGroup[],
  prior: ScatterPrior | undefined,
  variances: readonly number[],
  residuals: Float64Array,
  weights: Float64Array,
  columns: readonly Float64Array[],
  qr: WeightedQr,
): ScatterEstimate {
  const info = information(groups, weights, columns, qr);
  const evidence = info.map((row) => [...row]);
  const score = groups.map(({ members }, g) => {
    let sum = 0;
    for (const i of members) sum += (weights[i] * residuals[i]) ** 2 - weights[i] * (1 - qr.leverages[i]);
    if (prior && (members.length < ENOUGH_FOR_OWN || prior.all)) {
      // Scaled inverse χ² for the variance of the group's readings, rounding and all.
      const v = 1 / weights[members[0]];
      sum += (prior.dof / v) * (prior.variance / v - 1);
      const ofPrior = prior.dof / (2 * v * v);
      info[g][g] += ofPrior;
      evidence[g][g] += ofPrior * (prior.counts?.[g] ?? 1);
    }
    return sum / 2;
  });
  const towards = invert(info);
  const next = variances.map((variance, g) => {
    if (groups[g].certain) return 0;
    const step = dot(towards[g], score);
    const least = Math.min(...groups[g].members.map((i) => 1 / weights[i]));
    const room = Math.max(variance, least / LARGEST_STEP, LEAST_VARIANCE);
    return Math.max(0, Math.min(variance + step, room * LARGEST_STEP));
  });
  return { variances: next, covariance: invert(evidence) };
}

/**
 * Degrees of freedom of the variance of a combination c of the parameters, by Welch and Satterthwaite's rule for
 * estimated variances: 2 v² / var(v). For one gauge this is readings less parameters.
 * Source: F. E. Satterthwaite, Biometrics Bulletin 2 (1946), 110-114; GUM G.4.1.
 */
export function effectiveDof(
  combination: readonly number[],
  groups: readonly ScatterGroup[],
  covariance: readonly (readonly number[])[],
  weights: Float64Array,
  columns: readonly Float64Array[],
  qr: WeightedQr,
): number {
  const direction = qr.inverse.map((row) => dot(row, combination));
  const variance = dot(combination, direction);
  const slopes = groups.map(({ members }) => {
    let sum = 0;
    for (const i of members) {
      let along = 0;
      for (let j = 0; j < direction.length; j += 1) along += columns[j][i] * direction[j];
      sum += (weights[i] * along) ** 2;
    }
    return sum;
  });
  const spread = dot(
    slopes,
    covariance.map((row) => dot(row, slopes)),
  );
  return spread > 0 ? (2 * variance * variance) / spread : Number.POSITIVE_INFINITY;
}

/**
 * Covariance of the parameters when the weights come from the same readings: (XᵀWX)⁻¹ takes them for known, and so is
 * too small where a gauge has few readings. With one gauge nothing is added.
 * Source: M. G. Kenward, J. H. Roger, Biometrics 53 (1997) 983-997 (variances that enter linearly).
 */
export function withUnsureWeights(
  groups: readonly ScatterGroup[],
  ofVariances: readonly (readonly number[])[],
  weights: Float64Array,
  columns: readonly Float64Array[],
  { inverse }: WeightedQr,
): number[][] {
  const estimated = [...groups.keys()].filter((g) => !groups[g].certain);
  if (estimated.length < 2) return inverse;
  const squares = groups.map(({ members }) => gramOf(members, weights, columns));
  const cubes = groups.map(({ members }) => gramOf(members, weights, columns, 3));
  const sum = inverse.map((row) => row.map(() => 0));
  for (const g of estimated) {
    const left = multiply(squares[g], inverse);
    for (const h of estimated) {
      const both = multiply(left, squares[h]);
      sum.forEach((row, j) => {
        for (let k = 0; k < row.length; k += 1) {
          row[k] += ofVariances[g][h] * ((g === h ? cubes[g][j][k] : 0) - both[j][k]);
        }
      });
    }
  }
  const added = multiply(multiply(inverse, sum), inverse);
  return inverse.map((row, j) => row.map((value, k) => value + added[j][k] + added[k][j]));
}

/** Σ wⁿ x xᵀ over some rows, w² as a rule. */
function gramOf(
  members: readonly number[],
  weights: Float64Array,
  columns: readonly Float64Array[],
  power = 2,
): number[][] {
  const gram = columns.map(() => new Array<number>(columns.length).fill(0));
  for (const i of members) {
    const square = weights[i] ** power;
    for (let j = 0; j < columns.length; j += 1) {
      for (let k = j; k < columns.length; k += 1) gram[j][k] += square * columns[j][i] * columns[k][i];
    }
  }
  for (let j = 0; j < columns.length; j += 1) for (let k = 0; k < j; k += 1) gram[j][k] = gram[k][j];
  return gram;
}

const multiply = (a: readonly (readonly number[])[], b: readonly (readonly number[])[]): number[][] =>
  new Matrix(a as number[][]).mmul(new Matrix(b as number[][])).to2DArray();

/**
 * Inverse of a small symmetric positive matrix, scaled to ones on its diagonal first. Of a singular one (gauges whose
 * scatters only show together) the pseudo-inverse, which steps along what can be told.
 */
function invert(matrix: readonly (readonly number[])[]): number[][] {
  const scale = matrix.map((row, i) => (row[i] > 0 ? 1 / Math.sqrt(row[i]) : 0));
  const unit = matrix.map((row, i) =>
    row.map((value, j) => (scale[i] > 0 && scale[j] > 0 ? value * scale[i] * scale[j] : i === j ? 1 : 0)),
  );
  const lu = new LuDecomposition(new Matrix(unit));
  const inverse = (lu.isSingular() ? pseudoInverse(new Matrix(unit)) : lu.solve(Matrix.eye(unit.length))).to2DArray();
  return inverse.map((row, i) => row.map((value, j) => value * scale[i] * scale[j]));
}
