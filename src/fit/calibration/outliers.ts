import { weightedQr } from '../linear/weighted-qr.js';
import { studentQuantile } from '../statistics/student-t.js';
import { type Design, linearise, pick } from './design.js';
import { robustStart } from './robust-start.js';
import { readingVariance, type WeightedFit, weightedFit } from './weighted-fit.js';

/** Probability of naming any reading at all in a set without a wrong one. */
const FALSE_ALARM = 0.01;
/** Robust standard deviations from which a reading is under suspicion. */
const SUSPICIOUS = 3.5;
/** Two of three readings agree by chance: what lies no farther off than a careful hand scatters contradicts nothing. */
const CAREFUL_HAND_MM = 0.01;
const MAX_ROUNDS = 20;
/** Wrong readings may be blamed while at least so many degrees of freedom are left for each of them. */
const LEFT_FOR_EACH = 2;
/** Of the squares of a gauge at least this share is not one reading's doing. */
const LEAST_LEFT = 0.05;

export interface OutlierSearch {
  /** Places of the readings that stand out, in the order of the lengths. */
  readonly outliers: readonly number[];
  /** The fit of `kept` ones. */
  readonly clean: WeightedFit;
  /** Places of the readings in that fit: all but those that stand out. */
  readonly kept: readonly number[];
  /** For every reading: its distance from the clean fit over the standard deviation of that distance, itself left out. */
  readonly distance: readonly number[];
  /** Something is wrong, but the readings are too few to tell which: then none is named. */
  readonly undecided: boolean;
}

/**
 * Finds readings that don't belong to the others: those under suspicion after the robust fit are left out, the rest is
 * fitted, and every reading is held against that fit as a deleted studentised residual with Bonferroni's limit; until
 * the set stands still. Starting from the robust fit keeps wrong readings from hiding each other.
 *
 * Source: R. D. Cook, S. Weisberg, Residuals and Influence in Regression (1982), 2.2.2 (outlier test with Bonferroni's
 * bound); A. S. Hadi, J. S. Simonoff, J. Amer. Statist. Assoc. 88 (1993) 1264-1272 (from a clean subset outward).
 */
export function findOutliers(design: Design, start: readonly number[], all: WeightedFit): OutlierSearch {
  const robust = robustStart(design, start);
  const everything = design.lengths.map((_, i) => i);
  const none = { clean: all, kept: everything, distance: distances(design, everything, all), undecided: false };
  const dispensable = (suspects: readonly number[]): readonly number[] => suspects.filter(spared(suspects, all));
  let outliers = dispensable(everything.filter((i) => Math.abs(robust.residuals[i]) > SUSPICIOUS * robust.sd[i]));
  const seen = new Set<string>();
  for (let round = 0; round < MAX_ROUNDS; round += 1) {
    const out = new Set(outliers);
    const kept = everything.filter((i) => !out.has(i));
    const clean = outliers.length === 0 ? all : weightedFit(pick(design, kept), robust.parameters);
    if (clean.dof < 2 || clean.dof < LEFT_FOR_EACH * outliers.length) break;
    const distance = distances(design, kept, clean);
    const beyond = everything.filter((i) => Math.abs(distance[i]) > limitFor(i, design, clean));
    const next = dispensable(beyond);
    const key = next.join();
    if (key === outliers.join() || seen.has(key)) {
      return { outliers: next, clean, kept, distance, undecided: next.length < beyond.length };
    }
    seen.add(key);
    outliers = next;
  }
  const isWide = (i: number): boolean => Math.abs(robust.residuals[i]) > SUSPICIOUS * CAREFUL_HAND_MM;
  return { outliers: [], ...none, undecided: outliers.some(isWide) };
}

/** What suspects weigh beside the others, when it is looked at what only they tell. */
const TRACE = 1e-8;
/** A trace of a reading that only repeats what others tell has a leverage of its own order; of one that alone tells something, near 1. */
const ALONE_TELLS = 1e-3;

/** Readings without which some number could not be told at all: nothing is left to blame them by. */
function spared(suspects: readonly number[], { columns, weights, residuals }: WeightedFit): (i: number) => boolean {
  if (suspects.length === 0) return () => true;
  const faint = weights.slice();
  for (const i of suspects) faint[i] *= TRACE;
  const rest = new Float64Array(faint.length);
  rest.set(residuals);
  const { leverages } = weightedQr(columns, rest, faint);
  return (i) => leverages[i] < ALONE_TELLS;
}

/** Student's t for the gauge that the reading was taken with, shared out over all readings (Bonferroni). */
function limitFor(i: number, { lengths }: Design, clean: WeightedFit): number {
  return studentQuantile(FALSE_ALARM / lengths.length, Math.max(1, dofOf(lengths[i].noise, clean) - 1));
}

function dofOf(noise: string, { groups, groupDof, dof }: WeightedFit): number {
  const g = groups.findIndex((group) => group.noise === noise);
  return g < 0 ? 1 : Math.min(groupDof[g], Math.max(dof, 1));
}

function distances(design: Design, kept: readonly number[], clean: WeightedFit): number[] {
  const { lengths } = design;
  const place = new Map(kept.map((i, row) => [i, row]));
  const here = linearise(design, clean.parameters);
  return lengths.map((length, i) => {
    const row = place.get(i);
    if (row !== undefined) {
      const dof = dofOf(length.noise, clean);
      const t = clean.residuals[row] * Math.sqrt(clean.weights[row] / Math.max(1e-9, 1 - clean.qr.leverages[row]));
      return dof > 1 ? t * Math.sqrt((dof - 1) / Math.max(LEAST_LEFT * dof, dof - t * t)) : 0;
    }
    let ofFit = 0;
    here.columns.forEach((a, j) => {
      here.columns.forEach((b, k) => {
        ofFit += a[i] * b[i] * clean.covariance[j][k];
      });
    });
    return here.residuals[i] / Math.sqrt(ofFit + readingVariance(length, clean));
  });
}
