import { isForJaws } from '../../coupon/features.js';
import { bilinear, weightedQr } from '../linear/weighted-qr.js';
import { median } from '../statistics/averages.js';
import { studentQuantile } from '../statistics/distributions.js';
import { type CauseFound, contextOf, likelyCause } from './causes.js';
import { type Design, type Linearised, linearise, pick, predictLength, stepFrom, withPriors } from './design.js';
import { type EyeObservation, type Observation, type Observations, placeOf } from './observations.js';
import { roundingVariance, scatterGroups } from './scatter.js';
import type { FlaggedReading } from './types.js';
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

export type OutlierSearch = ReturnType<typeof findOutliers>;

/**
 * Finds readings that don't belong to the others: those under suspicion after the robust fit are left out, the rest is
 * fitted, and every reading is held against that fit as a deleted studentised residual with Bonferroni's limit; until
 * the set stands still. Starting from the robust fit keeps wrong readings from hiding each other.
 *
 * Source: R. D. Cook, S. Weisberg, Residuals and Influence in Regression (1982), 2.2.2 (outlier test with Bonferroni's
 * bound); A. S. Hadi, J. S. Simonoff, J. Amer. Statist. Assoc. 88 (1993) 1264-1272 (from a clean subset outward).
 *
 * @returns outliers: places of the readings that stand out, in the order of the lengths; clean: the fit of the `kept` ones,
 *   all others; distance: of every reading from the clean fit, over the standard deviation of that distance, itself left
 *   out; undecided: something is wrong, but the readings are too few to tell which: then none is named
 */
export function findOutliers(design: Design, start: readonly number[], all: WeightedFit) {
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
    const slopes = here.columns.map((column) => column[i]);
    return here.residuals[i] / Math.sqrt(bilinear(slopes, clean.covariance, slopes) + readingVariance(length, clean));
  });
}

/** Tukey's bisquare at 95 % efficiency for normal errors. */
const BISQUARE = 4.685;
/** Median absolute deviation to standard deviation of a normal distribution. */
const MAD_TO_SD = 1.482602218505602;
const FLOOR_SD_MM = 1e-6;
/** The median of fewer readings of a gauge says nothing of its scatter. */
const ENOUGH_FOR_OWN = 8;
/** Steps that matter no more: this only finds a start. Ratios, and mm. Least absolute deviations go on to where few readings fit exactly. */
const ABSOLUTE = { rounds: 60, settled: 1e-6 };
const BOUNDED = { rounds: 200, settled: 1e-9 };

/**
 * A fit that gross errors hardly move: a start by medians or by least absolute deviations (what is measured where is
 * known exactly, so only the readings can be wrong, and both stand until nearly half of those that bear on a parameter
 * are), the scale of each gauge from the median absolute deviation, then Tukey's bisquare by reweighting until it
 * stands still.
 *
 * Source: P. J. Huber, Robust Statistics (1981), 6.7; P. J. Rousseeuw, A. M. Leroy, Robust Regression and Outlier
 * Detection (1987), ch. 3; V. J. Yohai, Ann. Statist. 15 (1987) 642-656 for the order: high breakdown first, scale
 * kept, then an efficient M-estimate.
 *
 * @returns where most readings agree: the five, then the terms; residuals and robust standard deviations of readings, mm
 */
function robustStart(design: Design, start: readonly number[]) {
  const byMedians = linearise(design, [...start.slice(0, 5), ...design.terms.map(() => 0)]);
  const unit = Float64Array.from(design.lengths, ({ resolutionMm }) => Math.max(resolutionMm / 2, 0.002));
  const absolute = reweighted(design, byMedians, ABSOLUTE, (residuals) =>
    unit.map((u, i) => 1 / (u * Math.max(Math.abs(residuals[i]), 1e-3 * u))),
  );
  // Whichever more readings agree with.
  const [a, b] = [absolute, byMedians].map(({ residuals }) => gaugeSd(design, residuals));
  const least = a.map((value, i) => Math.min(value, b[i]));
  const isBetter =
    absolute.parameters.every(Number.isFinite) &&
    boundedCost(absolute.residuals, least) <= boundedCost(byMedians.residuals, least);
  const [first, sd] = isBetter ? [absolute, a] : [byMedians, b];
  const weightsOf = (residuals: Float64Array): Float64Array => rowWeights(residuals, sd);
  const { parameters, residuals } = reweighted(design, first, BOUNDED, weightsOf, (rest) => boundedCost(rest, sd)); // biome-ignore format: one call
  return { parameters, residuals: residuals.subarray(0, sd.length), sd };
}

/** Weighs and fits again until the numbers stand still. */
function reweighted(
  design: Design,
  start: Linearised,
  { rounds, settled }: typeof ABSOLUTE,
  weightsOf: (residuals: Float64Array) => Float64Array,
  cost?: (residuals: Float64Array) => number,
): Linearised {
  let state = start;
  for (let round = 0; round < rounds; round += 1) {
    const { next } = stepFrom(design, withPriors(weightsOf(state.residuals), design), state, cost);
    const before = state.parameters;
    state = next;
    if (next.parameters.every((value, k) => Math.abs(value - before[k]) <= settled)) break;
  }
  return state;
}

/** Tukey's loss: 1 for each reading that counts for nothing, less for the others. */
function boundedCost(residuals: Float64Array, sd: Float64Array): number {
  let sum = 0;
  for (let i = 0; i < sd.length; i += 1) {
    const u = residuals[i] / (BISQUARE * sd[i]);
    sum += Math.abs(u) < 1 ? 1 - (1 - u * u) ** 3 : 1;
  }
  return sum;
}

/** Weights of zero would make the problem singular when all readings of a kind are off: they keep a trace. */
const LEAST_WEIGHT = 1e-10;

function rowWeights(residuals: Float64Array, sd: Float64Array): Float64Array {
  return sd.map((own, i) => {
    const u = residuals[i] / (BISQUARE * own);
    return Math.max(Math.abs(u) < 1 ? (1 - u * u) ** 2 : 0, LEAST_WEIGHT) / (own * own);
  });
}

function gaugeSd({ lengths, terms }: Design, residuals: Float64Array): Float64Array {
  const sd = new Float64Array(lengths.length);
  const freedom = Math.sqrt(lengths.length / Math.max(1, lengths.length - 5 - terms.length));
  const groups = scatterGroups(lengths);
  const few = groups.filter(({ members }) => members.length < ENOUGH_FOR_OWN).flatMap(({ members }) => members);
  const pools = [...groups.map(({ members }) => members).filter((m) => m.length >= ENOUGH_FOR_OWN), few];
  for (const members of pools) {
    const mad = median(members.map((i) => Math.abs(residuals[i]))) ?? 0;
    for (const i of members) {
      const rounding = Math.sqrt(roundingVariance(lengths[i].resolutionMm));
      sd[i] = Math.max(MAD_TO_SD * mad * freedom, rounding, FLOOR_SD_MM);
    }
  }
  return sd;
}

/** How far a right reading may lie from its prediction when causes are tried, in standard deviations. */
const FITS = 4;
/** What should be wider than this, but is said to be missing, is a contradiction, mm. */
const GONE_MARGIN_MM = 0.05;

/** Names the readings that stand out, with the likely cause. */
export function flagReadings(
  lengths: readonly Observation[],
  search: OutlierSearch,
  eye: Observations['eye'],
): FlaggedReading[] {
  const { parameters } = search.clean;
  const around = contextOf(lengths, parameters, ({ valueMm, resolutionMm }, expectedMm, i) => {
    const sd = search.distance[i] === 0 ? 0 : Math.abs((valueMm - expectedMm) / search.distance[i]);
    return FITS * Math.max(sd, resolutionMm / 2, 1e-6);
  });
  const context = { ...around, outliers: new Set(search.outliers) };
  const numeric = search.outliers.map((i) =>
    flagged(lengths[i], around.predicted[i], 3, { ...likelyCause(i, context), distance: search.distance[i] }),
  );
  return [...numeric, ...missingButExpected(eye, search), ...closedButWide(eye, lengths, parameters)];
}

/** Named, with what was expected to so many digits, and the cause. */
export const flagged = (
  length: Observation,
  expectedMm: number,
  digits: number,
  { distance, cause, because }: CauseFound & Pick<FlaggedReading, 'distance'>,
): FlaggedReading => ({
  ...placeOf(length),
  readingMm: length.valueMm,
  expectedMm,
  distance,
  cause,
  sentence: `${length.feature.id} reads ${Number(length.valueMm.toFixed(5))} mm where about ${expectedMm.toFixed(digits)} mm were expected: ${because}.`,
});

/** What was seen against all that was measured. */
const unlikely = (seen: EyeObservation, expectedMm: number, said: string): FlaggedReading => ({
  ...placeOf(seen),
  readingMm: seen.reading.readingMm,
  expectedMm,
  distance: Number.NEGATIVE_INFINITY,
  cause: 'unclear',
  sentence: `${seen.feature.id} ${said}`,
});

/** What is said not to be there, but should be by far. Whether openings are `closed` is no matter of the kerf. */
function missingButExpected(eye: Observations['eye'], { clean }: OutlierSearch): FlaggedReading[] {
  return eye.flatMap((seen): FlaggedReading[] => {
    const expectedMm = predictLength(seen, clean.parameters);
    const { readingMm } = seen.reading;
    // What a gauge of coarse steps shows as nothing may be there by nearly a step.
    const like = clean.groups.find(({ gauge }) => gauge === seen.gauge);
    const resolutionMm = Math.max(seen.resolutionMm, like?.resolutionMm ?? 0);
    const scatter = FITS * Math.sqrt(readingVariance({ noise: like?.noise ?? seen.noise, resolutionMm }, clean));
    const margin = readingMm === undefined ? Math.max(GONE_MARGIN_MM, scatter) : scatter;
    if (expectedMm < margin || (seen.kind === 'opening' && readingMm === undefined)) return [];
    const said = readingMm === undefined ? 'is said to have burnt away' : `reads ${readingMm} mm`;
    return [unlikely(seen, expectedMm, `${said}, but about ${expectedMm.toFixed(3)} mm were expected: look again; if it is true, the film burnt there.`)]; // biome-ignore format: one sentence
  });
}

/** A slot may come through where a round hole as wide does not, but not one of half its width. */
const OTHER_SHAPE_SHARE = 0.5;

/** What is said to be closed on a coupon of which narrower openings came through, as their widths were read. */
function closedButWide(
  eye: Observations['eye'],
  lengths: readonly Observation[],
  parameters: readonly number[],
): FlaggedReading[] {
  const shapeOf = ({ feature }: Pick<Observation, 'feature'>): string => (feature.kind === 'opening' && feature.shape) || 'slot'; // biome-ignore format: one thought
  return eye.flatMap((seen): FlaggedReading[] => {
    if (seen.kind !== 'opening' || seen.reading.outcome !== 'closed') return [];
    const expectedMm = predictLength(seen, parameters);
    const [narrower] = lengths
      .filter((other) => other.kind === 'opening' && other.session === seen.session && !isForJaws(other.feature))
      .map((other) => ({ other, widthMm: predictLength(other, parameters) }))
      .filter(({ other, widthMm }) => {
        const share = shapeOf(other) === shapeOf(seen) ? 1 : OTHER_SHAPE_SHARE;
        return widthMm <= Math.min(share * expectedMm, expectedMm - GONE_MARGIN_MM);
      })
      .sort((a, b) => a.widthMm - b.widthMm);
    if (!narrower) return [];
    const { other, widthMm } = narrower;
    return [unlikely(seen, expectedMm, `is said to be closed, about ${expectedMm.toFixed(3)} mm wide, but ${other.feature.id} of ${widthMm.toFixed(3)} mm came through: look again; if it is true, the beam failed there.`)]; // biome-ignore format: one sentence
  });
}
