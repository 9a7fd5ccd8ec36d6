import { sampleEnsemble } from '../statistics/ensemble-sampler.js';
import { logNormalInterval } from '../statistics/normal-interval.js';
import { roundingVariance, type ScatterGroup } from './scatter.js';
import type { WeightedFit } from './weighted-fit.js';

/** What the readings say when rounding is treated as what it is: each lies somewhere in its step. */
export interface RoundedAnswer {
  /** The five, then the terms: means. */
  readonly parameters: number[];
  readonly covariance: number[][];
  /** 95 % of the probability, equal tails. */
  readonly intervals: readonly (readonly [number, number])[];
}

/**
 * A gauge is coarse when its readings scatter by less than this share of its step: then rounding is no longer like
 * noise. Readings of like sizes are all rounded the same way, and averaging doesn't help. Measured on virtual machines:
 * at 0.3 of a step intervals by weighted least squares still cover 91 to 96 %, at 0.2 only 73 to 95 %.
 */
const COARSE_SHARE = 0.27;
/** Readings that lie this close to the model, in steps, were not rounded to steps at all. */
const NOT_ROUNDED_SHARE = 1e-4;
/** Readings of a coarse gauge scatter by at least this share of its step. */
const LEAST_SHARE = 1 / 40;
const WALKERS_PER_PARAMETER = 4;
const STEPS = { burnIn: 400, kept: 700 };
/** More coarse readings than this average the rounding out, and would take long. */
const MOST_READINGS = 2000;

/** Gauges whose rounding decides the answer. */
export function coarseGauges(fit: WeightedFit): ScatterGroup[] {
  return fit.groups.filter(
    ({ resolutionMm, members }, g) =>
      resolutionMm > 0 &&
      members.every((i) => fit.design.lengths[i].resolutionMm === resolutionMm) &&
      members.length > 1 &&
      members.length <= MOST_READINGS &&
      Math.sqrt(fit.scatter.variances[g]) < COARSE_SHARE * resolutionMm &&
      rms(members.map((i) => fit.residuals[i])) > NOT_ROUNDED_SHARE * resolutionMm,
  );
}

function rms(values: readonly number[]): number {
  return Math.sqrt(values.reduce((sum, value) => sum + value * value, 0) / values.length);
}

/**
 * The answer for readings of coarse gauges: their likelihood is the probability that a value scattered normally about
 * the model is rounded to what was read; all others count as in the weighted fit, and so does what is known beforehand
 * (limits of gauges). Flat in the logarithm of each gauge's scatter; drawn by Monte Carlo with a fixed seed, as JCGM 101:2008 does for what is not normal.
 *
 * Measured on 250 virtual machines, spans read to 0.01 mm and widths to 0.05 mm with 5 µm of noise: intervals of the
 * kerf by weighted least squares cover 56 to 98 %, these 92 to 98 %.
 */
export function roundedAnswer(fit: WeightedFit, coarse: readonly ScatterGroup[]): RoundedAnswer {
  const { columns } = fit;
  const { lengths, priors } = fit.design;
  const size = fit.parameters.length;
  const centre = Float64Array.from(fit.parameters);
  const atCentre = priors.map(({ coefficients, value }) =>
    Object.entries(coefficients).reduce((rest, [k, c]) => rest - c * centre[Number(k)], value),
  );
  const residualAt = (parameters: Float64Array, i: number): number => {
    let e = i < lengths.length ? fit.residuals[i] : atCentre[i - lengths.length];
    for (let k = 0; k < size; k += 1) e -= columns[k][i] * (parameters[k] - centre[k]);
    return e;
  };
  const squaresOf = new Map(
    fit.groups.filter((group) => !coarse.includes(group)).map((group) => [group, squaresAbout(fit, group.members)]),
  );
  const logDensity = (parameters: Float64Array): number => {
    let sum = 0;
    priors.forEach(({ sd }, row) => {
      sum -= (residualAt(parameters, lengths.length + row) / sd) ** 2 / 2;
    });
    fit.groups.forEach((group, g) => {
      const logSd = parameters[size + g];
      const sd = Math.exp(logSd);
      const step = group.resolutionMm;
      const squares = squaresOf.get(group);
      if (squares === undefined) {
        if (!(sd > LEAST_SHARE * step && sd < 3 * step)) sum = Number.NEGATIVE_INFINITY;
        else {
          for (const i of group.members) {
            const e = residualAt(parameters, i);
            sum += logNormalInterval((e - step / 2) / sd, (e + step / 2) / sd);
          }
        }
      } else {
        const least = Math.sqrt(Math.min(...group.members.map((i) => roundingVariance(lengths[i].resolutionMm))));
        if (sd < least || sd > 1e3) sum = Number.NEGATIVE_INFINITY;
        else sum -= group.members.length * logSd + squares(parameters) / (2 * sd * sd);
      }
    });
    return sum;
  };
  const random = seeded();
  const draws = sampleEnsemble(logDensity, startingPoints(fit, coarse, centre, random), STEPS, random);
  return summarise(fit, draws);
}

/** Sum of squared residuals of some readings at any parameters: a square form, so the readings are gone through but once. */
function squaresAbout(
  { columns, residuals, parameters: centre }: WeightedFit,
  members: readonly number[],
): (parameters: Float64Array) => number {
  const about = [residuals, ...columns];
  const gram = about.map((a) => about.map((b) => members.reduce((sum, i) => sum + a[i] * b[i], 0)));
  return (parameters) => {
    let sum = 0;
    for (let j = 0; j < gram.length; j += 1) {
      const left = j === 0 ? 1 : centre[j - 1] - parameters[j - 1];
      for (let k = 0; k < gram.length; k += 1) {
        sum += gram[j][k] * left * (k === 0 ? 1 : centre[k - 1] - parameters[k - 1]);
      }
    }
    return Math.max(0, sum);
  };
}

/** Around the weighted fit, spread by its own uncertainty. */
function startingPoints(
  fit: WeightedFit,
  coarse: readonly ScatterGroup[],
  centre: Float64Array,
  random: () => number,
): Float64Array[] {
  const size = centre.length;
  const count = WALKERS_PER_PARAMETER * (size + fit.groups.length);
  return Array.from({ length: count + (count % 2) }, () => {
    const place = new Float64Array(size + fit.groups.length);
    for (let k = 0; k < size; k += 1) {
      place[k] = centre[k] + Math.sqrt(fit.covariance[k][k]) * 3 * (random() - 0.5);
    }
    fit.groups.forEach((group, g) => {
      const step = group.resolutionMm;
      const total = Math.sqrt(fit.scatter.variances[g] + roundingVariance(step));
      place[size + g] = Math.log(
        coarse.includes(group) ? step * (0.1 + 0.3 * random()) : total * (1.05 + 0.2 * random()),
      );
    });
    return place;
  });
}

function summarise({ parameters }: WeightedFit, draws: readonly Float64Array[]): RoundedAnswer {
  const mean = parameters.map((_, k) => draws.reduce((sum, draw) => sum + draw[k], 0) / draws.length);
  const covariance = mean.map((a, j) =>
    mean.map((b, k) => draws.reduce((sum, draw) => sum + (draw[j] - a) * (draw[k] - b), 0) / draws.length),
  );
  const intervals = mean.map((_, k): [number, number] => {
    const sorted = Float64Array.from(draws, (draw) => draw[k]).sort();
    return [sorted[Math.floor(0.025 * sorted.length)], sorted[Math.floor(0.975 * sorted.length)]];
  });
  return { parameters: mean, covariance, intervals };
}

/** Uniform numbers from a fixed seed: G. Marsaglia, Xorshift RNGs, J. Stat. Softw. 8 (2003), 14. */
function seeded(): () => number {
  let state = 2463534242;
  return () => {
    state ^= state << 13;
    state ^= state >>> 17;
    state ^= state << 5;
    return (state >>> 0) / 4294967296;
  };
}
