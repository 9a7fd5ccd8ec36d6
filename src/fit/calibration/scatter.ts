import type { WeightedQr } from '../linear/weighted-qr.js';

/** Readings that share one scatter: those of one gauge. */
export interface ScatterGroup {
  /** Step of the gauge, mm; undefined for readings of several gauges too few to be judged on their own. */
  readonly resolutionMm: number | undefined;
  readonly members: readonly number[];
}

/** Below this many readings a gauge's own scatter can't be told; such gauges share one. */
const ENOUGH_FOR_OWN = 8;

/** Readings by gauge, told apart by resolution. */
export function scatterGroups(resolutionsMm: readonly number[]): ScatterGroup[] {
  const byStep = new Map<number, number[]>();
  resolutionsMm.forEach((step, i) => {
    const members = byStep.get(step);
    if (members) members.push(i);
    else byStep.set(step, [i]);
  });
  const own = [...byStep].filter(([, members]) => members.length >= ENOUGH_FOR_OWN);
  const few = [...byStep].filter(([, members]) => members.length < ENOUGH_FOR_OWN);
  const groups: ScatterGroup[] = own.map(([resolutionMm, members]) => ({ resolutionMm, members }));
  if (few.length > 0) {
    const rest = few.flatMap(([, members]) => members);
    groups.push({ resolutionMm: few.length === 1 ? few[0][0] : undefined, members: rest });
  }
  return groups;
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
      let total = traceOfProduct(inGroup[g], inGroup[h]);
      if (g === h) for (const i of group.members) total += weights[i] ** 2 * (1 - 2 * qr.leverages[i]);
      return total / 2;
    }),
  );
}

/** One step of restricted maximum likelihood (Fisher scoring) for the groups' variances, which stay >= 0. */
export function scatterStep(
  groups: readonly ScatterGroup[],
  variances: readonly number[],
  residuals: Float64Array,
  weights: Float64Array,
  columns: readonly Float64Array[],
  qr: WeightedQr,
): ScatterEstimate {
  const info = information(groups, weights, columns, qr);
  const score = groups.map(({ members }) => {
    let sum = 0;
    for (const i of members) {
      sum += (weights[i] * residuals[i]) ** 2 - weights[i] * (1 - qr.leverages[i]);
    }
    return sum / 2;
  });
  const covariance = invert(info);
  const next = variances.map((variance, g) =>
    Math.max(0, variance + covariance[g].reduce((sum, value, h) => sum + value * score[h], 0)),
  );
  return { variances: next, covariance };
}

/**
 * Degrees of freedom of the variance of a combination c of the free parameters, by Welch and Satterthwaite's rule
 * for estimated variances: 2 v² / var(v). For one gauge this is readings less parameters.
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
  const direction = qr.inverse.map((row) => row.reduce((sum, value, j) => sum + value * combination[j], 0));
  const variance = combination.reduce((sum, value, j) => sum + value * direction[j], 0);
  const slopes = groups.map(({ members }) => {
    const gram = gramOf(members, weights, columns);
    return direction.reduce(
      (sum, a, j) => sum + a * gram[j].reduce((inner, value, k) => inner + value * direction[k], 0),
      0,
    );
  });
  const spread = slopes.reduce(
    (sum, a, g) => sum + a * covariance[g].reduce((inner, value, h) => inner + value * slopes[h], 0),
    0,
  );
  return spread > 0 ? (2 * variance * variance) / spread : Number.POSITIVE_INFINITY;
}

/** Σ w² x xᵀ over some rows. */
function gramOf(members: readonly number[], weights: Float64Array, columns: readonly Float64Array[]): number[][] {
  const gram = columns.map(() => new Array<number>(columns.length).fill(0));
  for (const i of members) {
    const square = weights[i] * weights[i];
    for (let j = 0; j < columns.length; j += 1) {
      for (let k = j; k < columns.length; k += 1) gram[j][k] += square * columns[j][i] * columns[k][i];
    }
  }
  for (let j = 0; j < columns.length; j += 1) for (let k = 0; k < j; k += 1) gram[j][k] = gram[k][j];
  return gram;
}

function multiply(a: readonly (readonly number[])[], b: readonly (readonly number[])[]): number[][] {
  return a.map((row) => b[0].map((_, k) => row.reduce((sum, value, j) => sum + value * b[j][k], 0)));
}

function traceOfProduct(a: readonly (readonly number[])[], b: readonly (readonly number[])[]): number {
  return a.reduce((sum, row, j) => sum + row.reduce((inner, value, k) => inner + value * b[k][j], 0), 0);
}

/** Inverse of a small symmetric positive matrix, scaled to ones on its diagonal first. */
function invert(matrix: readonly (readonly number[])[]): number[][] {
  const size = matrix.length;
  const scale = matrix.map((row, i) => (row[i] > 0 ? 1 / Math.sqrt(row[i]) : 0));
  const work = matrix.map((row, i) => [
    ...row.map((value, j) => (scale[i] > 0 && scale[j] > 0 ? value * scale[i] * scale[j] : i === j ? 1 : 0)),
    ...Array.from({ length: size }, (_, j) => (i === j ? 1 : 0)),
  ]);
  for (let i = 0; i < size; i += 1) {
    const pivot = work[i][i];
    for (let k = 0; k < 2 * size; k += 1) work[i][k] /= pivot;
    for (let j = 0; j < size; j += 1) {
      if (j === i) continue;
      const factor = work[j][i];
      for (let k = 0; k < 2 * size; k += 1) work[j][k] -= factor * work[i][k];
    }
  }
  return work.map((row, i) => row.slice(size).map((value, j) => value * scale[i] * scale[j]));
}
