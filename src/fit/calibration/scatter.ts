import { LuDecomposition, Matrix, pseudoInverse } from 'ml-matrix';
import { grouped } from '../../kept.js';
import { bilinear, dot, type WeightedQr } from '../linear/weighted-qr.js';
import type { FitLength } from './design.js';

/** Readings that share one scatter: those of one gauge. */
export type ScatterGroup = ReturnType<typeof scatterGroups>[number];

export function scatterGroups(lengths: readonly FitLength[]) {
  return [...grouped(lengths.keys(), (i) => lengths[i].noise)].map(([noise, members]) => ({
    noise,
    gauge: lengths[members[0]].gauge,
    /** Coarsest step among them, mm. */
    resolutionMm: Math.max(...members.map((i) => lengths[i].resolutionMm)),
    members,
    /** Nothing beyond rounding. */
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

/** A linear problem with the weight of each row, by groups. */
export interface Weighed {
  readonly groups: readonly ScatterGroup[];
  readonly weights: Float64Array;
  readonly qr: WeightedQr;
}

/** No gauge of this trade sees a nanometre: keeps weights finite when readings fit exactly. */
export const LEAST_VARIANCE = 1e-12;
/** The scatter of so many readings speaks for itself. */
const ENOUGH_FOR_OWN = 8;
/** A step of the iteration changes no variance by more than this factor, up or down. */
const LARGEST_STEP = 6;

/**
 * Σ wⁿ q qᵀ over each group's rows, q the orthonormal columns of the weighted design: what each gauge has in what is
 * told. Everything here is short in them: XᵀWX is RᵀR, and an inverse of it never stands between two sums.
 */
function sharesOf({ groups, weights, qr: { q } }: Weighed, power: 1 | 2 = 1): number[][][] {
  return groups.map(({ members }) =>
    q.map((a) =>
      q.map((b) => {
        let sum = 0;
        for (const i of members) sum += weights[i] ** power * a[i] * b[i];
        return sum;
      }),
    ),
  );
}

/** Expected information on each group's variance: ½ tr(P D_g P D_h), P the projector onto the residuals. */
function information(fit: Weighed): number[][] {
  const { groups, weights, qr } = fit;
  const shares = sharesOf(fit);
  return groups.map(({ members }, g) =>
    groups.map((_, h) => {
      const common = shares[g].reduce((sum, row, j) => sum + dot(row, shares[h][j]), 0);
      const own = g === h ? members.reduce((sum, i) => sum + weights[i] ** 2 * (1 - 2 * qr.leverages[i]), 0) : 0;
      return (common + own) / 2;
    }),
  );
}

/**
 * One step of restricted maximum likelihood (Fisher scoring) for the groups' variances, with a prior that keeps the
 * variance of a few readings from running off.
 *
 * @returns the variances, and the information on them: its inverse is their covariance
 */
export function scatterStep(
  fit: Weighed,
  prior: ScatterPrior | undefined,
  variances: readonly number[],
  residuals: Float64Array,
) {
  const { groups, weights, qr } = fit;
  const info = information(fit);
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
  const towards = invertSymmetric(info);
  const next = variances.map((variance, g) => {
    if (groups[g].certain) return 0;
    const step = dot(towards[g], score);
    const least = Math.min(...groups[g].members.map((i) => 1 / weights[i]));
    const room = Math.max(variance, least / LARGEST_STEP, LEAST_VARIANCE);
    return Math.max(0, Math.min(variance + step, room * LARGEST_STEP));
  });
  return { variances: next, evidence };
}

/**
 * Degrees of freedom of the variance of each parameter, by Welch and Satterthwaite's rule for estimated variances:
 * 2 v² / var(v). For one gauge this is readings less parameters.
 * Source: F. E. Satterthwaite, Biometrics Bulletin 2 (1946), 110-114; GUM G.4.1.
 */
export function effectiveDofs(fit: Weighed, ofVariances: readonly (readonly number[])[]): number[] {
  const { qr } = fit;
  const shares = sharesOf(fit);
  return qr.inverseR.map((row, k) => {
    const slopes = shares.map((share) => bilinear(row, share, row));
    const spread = bilinear(slopes, ofVariances, slopes);
    return spread > 0 ? (2 * qr.inverse[k][k] ** 2) / spread : Number.POSITIVE_INFINITY;
  });
}

/**
 * Covariance of the parameters when the weights come from the same readings: (XᵀWX)⁻¹ takes them for known, and so is
 * too small where a gauge has few readings. With one gauge nothing is added.
 * Source: M. G. Kenward, J. H. Roger, Biometrics 53 (1997) 983-997 (variances that enter linearly).
 */
export function withUnsureWeights(fit: Weighed, ofVariances: readonly (readonly number[])[]): number[][] {
  const { inverse, inverseR } = fit.qr;
  const estimated = [...fit.groups.keys()].filter((g) => !fit.groups[g].certain);
  if (estimated.length < 2) return inverse;
  const shares = sharesOf(fit);
  const squares = sharesOf(fit, 2);
  const sum = inverse.map((row, j) =>
    row.map((_, k) => {
      let total = 0;
      for (const g of estimated) {
        total += ofVariances[g][g] * squares[g][j][k];
        for (const h of estimated) total -= ofVariances[g][h] * dot(shares[g][j], shares[h][k]);
      }
      return total;
    }),
  );
  return inverse.map((row, j) => {
    const half = sum.map((line) => dot(line, inverseR[j]));
    return row.map((value, k) => value + 2 * dot(inverseR[k], half));
  });
}

/**
 * Inverse of a small symmetric positive matrix, scaled to ones on its diagonal first. Of a singular one (gauges whose
 * scatters only show together) the pseudo-inverse, which steps along what can be told.
 */
export function invertSymmetric(matrix: readonly (readonly number[])[]): number[][] {
  const scale = matrix.map((row, i) => (row[i] > 0 ? 1 / Math.sqrt(row[i]) : 0));
  const unit = matrix.map((row, i) =>
    row.map((value, j) => (scale[i] > 0 && scale[j] > 0 ? value * scale[i] * scale[j] : i === j ? 1 : 0)),
  );
  const lu = new LuDecomposition(new Matrix(unit));
  const inverse = (lu.isSingular() ? pseudoInverse(new Matrix(unit)) : lu.solve(Matrix.eye(unit.length))).to2DArray();
  return inverse.map((row, i) => row.map((value, j) => value * scale[i] * scale[j]));
}
