import { type WeightedQr, weightedQr } from '../linear/weighted-qr.js';
import { median } from '../statistics/averages.js';

/** A reading as the fit needs it. */
export interface FitLength extends Length {
  readonly valueMm: number;
  readonly resolutionMm: number;
  /** Name of the gauge: its readings share a zero and a limit of error. */
  readonly gauge: string;
  /** Readings that share one noise: those of a gauge as a rule. */
  readonly noise: string;
  /** Its step is all of its uncertainty: eyes that see which of two webs stands. */
  readonly certain?: boolean;
}

/** Something beside the five numbers that readings may hold: a gauge's zero, a fault of the machine. Linear. */
export interface Term {
  readonly name: string;
  /** mm of each reading for one unit of it. */
  readonly column: Float64Array;
}

/** @param of - mm of a reading for one unit of it */
export const termOf = <T>(name: string, lengths: readonly T[], of: (length: T) => number): Term => ({
  name,
  column: Float64Array.from(lengths, of),
});

/** What is known before anything is read: Σ coefficient · parameter = value, give or take sd. */
export interface Prior {
  /** Number of the parameter (the five, then one for each term) and its coefficient; all others are 0. */
  readonly coefficients: readonly (readonly [parameter: number, coefficient: number])[];
  readonly value: number;
  readonly sd: number;
}

/** The five numbers and some terms, to be told from readings and from what is known beforehand. */
export interface Design {
  readonly lengths: readonly FitLength[];
  readonly terms: readonly Term[];
  readonly priors: readonly Prior[];
}

export type Linearised = ReturnType<typeof linearise>;

/**
 * The problem as it looks from one set of parameters: a row for each reading, then one for each prior.
 *
 * @returns residuals: reading - predicted, mm; for a prior in its own unit
 */
export function linearise({ lengths, terms, priors }: Design, parameters: readonly number[]) {
  const count = lengths.length;
  const columns = parameters.map(() => new Float64Array(count + priors.length));
  const residuals = new Float64Array(count + priors.length);
  const gradient = new Float64Array(5);
  for (let i = 0; i < count; i += 1) {
    let predicted = predictLength(lengths[i], parameters, gradient);
    for (let k = 0; k < 5; k += 1) columns[k][i] = gradient[k];
    for (let t = 0; t < terms.length; t += 1) {
      const value = terms[t].column[i];
      columns[5 + t][i] = value;
      predicted += value * parameters[5 + t];
    }
    residuals[i] = lengths[i].valueMm - predicted;
  }
  priors.forEach(({ coefficients, value }, row) => {
    residuals[count + row] = value;
    for (const [k, coefficient] of coefficients) {
      columns[k][count + row] = coefficient;
      residuals[count + row] -= coefficient * parameters[k];
    }
  });
  return { parameters, columns, residuals };
}

/** Weights of the readings, and behind them those of the priors. */
export function withPriors(weights: Float64Array, { priors }: Design): Float64Array {
  const all = new Float64Array(weights.length + priors.length);
  all.set(weights);
  priors.forEach(({ sd }, row) => {
    all[weights.length + row] = 1 / (sd * sd);
  });
  return all;
}

/** What readings of such weights tell of the five numbers and the terms, whatever they read. @param at - the five */
export function toldBy(design: Design, weights: Float64Array, at: readonly number[]): WeightedQr {
  const { columns, residuals } = linearise(design, [...at, ...design.terms.map(() => 0)]);
  return weightedQr(columns, residuals, withPriors(weights, design));
}

const MAX_HALVINGS = 20;

/**
 * One step from a linearised problem: what reweighting iterates on; the model is nearly linear.
 *
 * @param weights - of all rows
 * @param cost - what the step must not raise; it is halved until it doesn't. Not given: the step is taken as it is
 */
export function stepFrom(
  design: Design,
  weights: Float64Array,
  from: Linearised,
  cost?: (residuals: Float64Array) => number,
): { readonly next: Linearised; readonly qr: WeightedQr } {
  const qr = weightedQr(from.columns, from.residuals, weights);
  const limit = cost ? cost(from.residuals) * (1 + 1e-12) : Number.POSITIVE_INFINITY;
  for (let halving = 0, share = 1; ; halving += 1, share /= 2) {
    const next = linearise(
      design,
      from.parameters.map((value, k) => value + share * qr.solution[k]),
    );
    if (!cost || cost(next.residuals) <= limit) return { next, qr };
    if (halving === MAX_HALVINGS) return { next: from, qr };
  }
}

/** Parts of a design that belong to some of its readings. */
export function pick(design: Design, kept: readonly number[]): Design {
  return {
    lengths: kept.map((i) => design.lengths[i]),
    terms: design.terms.map(({ name, column }) => ({ name, column: Float64Array.from(kept, (i) => column[i]) })),
    priors: design.priors,
  };
}

/** What is read: a length on the film as the machine's model sees it. */
export interface Length {
  readonly kind: 'span' | 'opening' | 'web' | 'vernier';
  /** From one edge to the other as commanded, mm; for a vernier the unit vector of its axis. */
  readonly dx: number;
  readonly dy: number;
}

/** sx, sy, shear, kx, ky: the order of PARAMETER_NAMES. */
export type Parameters = readonly number[];

export const KERF_SIGN = { span: 0, opening: 1, web: -1, vernier: 1 } as const;

/**
 * The reading that the model predicts, mm: |A d| for a span, + κ(u) for an opening, - κ(u) for a web. A vernier shows
 * the kerf in commanded millimetres, since its combs shrink and grow with the scale: κ(u) / |A u|. Along an axis κ keeps
 * the sign of the kerf, so that an estimate near zero isn't pushed up.
 *
 * @param gradient - filled with the derivatives by the five parameters when given
 * @remarks Math.sqrt and not Math.hypot, which takes ten times as long; lengths of millimetres can't overflow.
 */
export function predictLength(length: Length, parameters: Parameters, gradient?: Float64Array): number {
  const { dx, dy, kind } = length;
  const gx = parameters[0] * dx + parameters[2] * dy;
  const gy = parameters[1] * dy;
  const film = Math.sqrt(gx * gx + gy * gy);
  const kerfX = parameters[3];
  const kerfY = parameters[4];
  const square = dx * dx + dy * dy;
  const xx = (dx * dx) / square;
  const yy = (dy * dy) / square;
  const kerf = dy === 0 ? kerfX : dx === 0 ? kerfY : Math.sqrt(kerfX * kerfX * xx + kerfY * kerfY * yy);
  const sign = KERF_SIGN[kind];
  if (gradient) {
    const slanted = dx !== 0 && dy !== 0 && kerf > 0;
    const ofKerf = kind === 'vernier' ? sign / film : sign;
    const ofFilm = kind === 'vernier' ? -kerf / (film * film) : 1;
    gradient[0] = (ofFilm * gx * dx) / film;
    gradient[1] = (ofFilm * gy * dy) / film;
    gradient[2] = (ofFilm * gx * dy) / film;
    gradient[3] = ofKerf * (slanted ? (kerfX * xx) / kerf : xx);
    gradient[4] = ofKerf * (slanted ? (kerfY * yy) / kerf : yy);
  }
  return kind === 'vernier' ? kerf / film : film + sign * kerf;
}

/** Slanted widths have no slope by the kerf where it is zero. */
const LEAST_KERF_MM = 0.01;

/**
 * A start for the iteration that wrong readings hardly move: each axis's scale from its spans, the shear from
 * slanted ones, the kerf from what openings and webs differ by; medians throughout.
 */
export function startParameters(lengths: readonly FitLength[]): number[] {
  const nominal = (l: FitLength): number => Math.hypot(l.dx, l.dy);
  const dimensional = lengths.filter(({ kind, valueMm }) => kind !== 'vernier' && valueMm > 0);
  const spans = dimensional.filter(({ kind }) => kind === 'span');
  const scaleOf = (pool: readonly FitLength[]): number | undefined => {
    const longest = Math.max(0, ...pool.map(nominal));
    const long = pool.filter((l) => nominal(l) >= longest / 4);
    return median(long.map((l) => l.valueMm / nominal(l)));
  };
  const overall = scaleOf(spans.length > 0 ? spans : dimensional) ?? 1;
  const scaleX = scaleOf(spans.filter(({ dy }) => dy === 0)) ?? overall;
  const scaleY = scaleOf(spans.filter(({ dx }) => dx === 0)) ?? overall;
  const kerfs = lengths.flatMap((l): { kerf: number; dx: number; dy: number }[] => {
    if (l.kind === 'span') return [];
    const film = Math.hypot(scaleX * l.dx, scaleY * l.dy);
    const kerf = l.kind === 'vernier' ? l.valueMm * film : l.kind === 'web' ? film - l.valueMm : l.valueMm - film;
    return [{ kerf, dx: l.dx, dy: l.dy }];
  });
  const kerfOf = (pool: typeof kerfs): number | undefined => median(pool.map(({ kerf }) => kerf));
  const kerf = kerfOf(kerfs) ?? 0.1;
  const kerfX = kerfOf(kerfs.filter(({ dy }) => dy === 0)) ?? kerf;
  const kerfY = kerfOf(kerfs.filter(({ dx }) => dx === 0)) ?? kerf;
  // From a slanted span: (scaleX dx + shear dy)² = m² - (scaleY dy)².
  const shear = median(
    spans
      .filter(({ dx, dy }) => dx !== 0 && dy !== 0)
      .map(({ dx, dy, valueMm }) => {
        const across = Math.sqrt(Math.max(0, valueMm ** 2 - (scaleY * dy) ** 2));
        return (Math.sign(dx) * across - scaleX * dx) / dy;
      }),
  );
  return [scaleX, scaleY, shear ?? 0, Math.max(kerfX, LEAST_KERF_MM), Math.max(kerfY, LEAST_KERF_MM)];
}
