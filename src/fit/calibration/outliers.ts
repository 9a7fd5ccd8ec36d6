import { studentQuantile } from '../statistics/student-t.js';
import { chooseModel } from './choose-model.js';
import { predictLength } from './length-model.js';
import { gatherGradient } from './models.js';
import type { RobustFit } from './robust-fit.js';
import { type FitLength, type WeightedFit, weightedFit } from './weighted-fit.js';

/** Probability of naming any reading at all in a set without a wrong one. */
const FALSE_ALARM = 0.01;
/** Robust standard deviations from which a reading is under suspicion. */
const SUSPICIOUS = 3.5;
const MAX_ROUNDS = 20;

export interface OutlierSearch {
  /** Places of the readings that stand out, in the order of the lengths. */
  readonly outliers: readonly number[];
  /** The fit of `kept` ones. */
  readonly clean: WeightedFit;
  /** Places of the readings in that fit: all but those that stand out. */
  readonly kept: readonly number[];
  /** For every reading: its distance from the clean fit over the standard deviation of that distance, itself left out. */
  readonly distance: readonly number[];
  /** Distance from which a reading counts as standing out. */
  readonly limit: number;
}

/**
 * Finds readings that don't belong to the others: those under suspicion after the robust fit are left out, the rest is
 * fitted, and every reading is held against that fit as a deleted studentised residual with Bonferroni's limit; until
 * the set stands still. Starting from the robust fit keeps wrong readings from hiding each other.
 *
 * Source: R. D. Cook, S. Weisberg, Residuals and Influence in Regression (1982), 2.2.2 (outlier test with Bonferroni's
 * bound); A. S. Hadi, J. S. Simonoff, J. Amer. Statist. Assoc. 88 (1993) 1264-1272 (from a clean subset outward).
 */
export function findOutliers(lengths: readonly FitLength[], robust: RobustFit): OutlierSearch | undefined {
  let outliers = Array.from(robust.residuals.keys()).filter(
    (i) => Math.abs(robust.residuals[i]) > SUSPICIOUS * robust.sd[i],
  );
  const seen = new Set<string>();
  for (let round = 0; round < MAX_ROUNDS; round += 1) {
    const out = new Set(outliers);
    const kept = lengths.map((_, i) => i).filter((i) => !out.has(i));
    const rest = kept.map((i) => lengths[i]);
    // With all readings that bear on a parameter under suspicion, what is left tells a smaller model only.
    const told = chooseModel(rest, robust.parameters);
    const dof = kept.length - (told?.freeNames.length ?? 0);
    if (!told || dof < 2) return undefined;
    const clean = weightedFit(told, rest, robust.parameters);
    const limit = studentQuantile(FALSE_ALARM / lengths.length, dof - 1);
    const distance = distances(lengths, kept, clean);
    const next = lengths.map((_, i) => i).filter((i) => Math.abs(distance[i]) > limit);
    const key = next.join();
    if (key === outliers.join() || seen.has(key)) return { outliers: next, clean, kept, distance, limit };
    seen.add(key);
    outliers = next;
  }
  return undefined;
}

function distances(lengths: readonly FitLength[], kept: readonly number[], clean: WeightedFit): number[] {
  const { model, solved, weights, dof } = clean;
  const distance = new Array<number>(lengths.length).fill(0);
  const place = new Map(kept.map((i, row) => [i, row]));
  const gradient = new Float64Array(5);
  const gathered = new Float64Array(5);
  lengths.forEach((length, i) => {
    const row = place.get(i);
    if (row !== undefined) {
      const t = solved.residuals[row] * Math.sqrt(weights[row] / Math.max(1e-12, 1 - solved.qr.leverages[row]));
      distance[i] = t * Math.sqrt((dof - 1) / Math.max(1e-9, dof - t * t));
      return;
    }
    const residual = length.valueMm - predictLength(length, solved.parameters, gradient);
    gatherGradient(model, gradient, gathered);
    const x = gathered.subarray(0, model.freeNames.length);
    let ofLine = 0;
    x.forEach((a, j) => {
      x.forEach((b, k) => {
        ofLine += a * b * solved.qr.inverse[j][k];
      });
    });
    distance[i] = residual / Math.sqrt(ofLine + varianceOf(length, lengths, kept, weights));
  });
  return distance;
}

/** Variance that a reading with this gauge has, taken from the kept readings with the same one. */
function varianceOf(
  length: FitLength,
  lengths: readonly FitLength[],
  kept: readonly number[],
  weights: Float64Array,
): number {
  const alike = kept.findIndex((i) => lengths[i].resolutionMm === length.resolutionMm);
  return 1 / (alike >= 0 ? weights[alike] : Math.min(...weights));
}
