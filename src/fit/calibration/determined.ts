import { type Design, type FitLength, type Prior, type Term, termOf, toldBy } from './design.js';
import { AXES, type Direction, directionOf, type Gauge, instrumentOf, spansGauge, uniformSd } from './gauges.js';

/** Scatter that a careful reader has, mm: what can be told must not depend on readings that may be wrong. */
const USUAL_SCATTER_MM = 0.01;
/** How far machines may lie from what one would take for granted, as standard deviations. */
const ANY_MACHINE = { scaleShare: 0.05, shear: 0.02, kerfMm: 10, kerfDifferenceMm: 0.2 };
/** Had one taken this many times less for granted, a number that is told would hardly change. */
const LESS_TAKEN = 10;
const HARDLY = 2;
/** And no number at all by this factor, where what is taken for granted is as good as not there. */
const UNMOVED = 1.01;
/** Overall scale from readings alone is told when it is surer than this share. */
const LEAST_SCALE = 0.02;
/** Uncertainties (standard) beyond which a reading says nothing about a number. */
const KNOWS_NOTHING = { scaleShare: 0.05, shear: 0.05, kerfMm: 0.5 };

/** What the readings can tell by where they were taken, whatever they read. */
export type Determined = ReturnType<typeof determinedBy>;

/**
 * Which of the five numbers the readings can tell. All five are always fitted, with what is known of any machine as
 * weak observations beside the readings: what these alone decide is `assumed`. So a number that can be told only
 * together with one that can't has an interval that says so. `scaleTaken`: it is taken as 1, for no reading tells it.
 */
export function determinedBy(lengths: readonly FitLength[], gauges: readonly Gauge[], start: readonly number[]) {
  const scale = (start[0] + start[1]) / 2;
  const weights = Float64Array.from(lengths, ({ resolutionMm }) => 1 / Math.max(resolutionMm, USUAL_SCATTER_MM) ** 2);
  const sds = (design: Design): number[] => toldBy(design, weights, start).inverse.map((row, k) => Math.sqrt(row[k]));
  const free: Design = { lengths, terms: [], priors: priorsOf(scale, LESS_TAKEN, false) };
  const tellsScale = Math.min(...sds(free).slice(0, 2)) < LEAST_SCALE * scale;
  const priors = priorsOf(scale, 1, !tellsScale);
  const bare: Design = { lengths, terms: [], priors };
  const plain = sds(bare);
  const loose = sds({ ...bare, priors: priorsOf(scale, LESS_TAKEN, !tellsScale) });
  const nothing = [scale * KNOWS_NOTHING.scaleShare, scale * KNOWS_NOTHING.scaleShare, scale * KNOWS_NOTHING.shear];
  const assumed = plain.map((sd, k) => {
    if (k < 2 && !tellsScale) return true;
    return loose[k] > HARDLY * sd || loose[k] > (nothing[k] ?? KNOWS_NOTHING.kerfMm);
  });
  // Where the readings tell all, what any machine has must not pull at them, however little.
  const speaksForItself = plain.every((sd, k) => loose[k] < UNMOVED * sd);
  const design: Design = speaksForItself ? { ...bare, priors: [] } : bare;
  return { ...withZeros(design, gauges, sds, assumed, start), assumed, scaleTaken: !tellsScale };
}

/** The five as any machine has them; wide, or so many times wider. */
function priorsOf(scale: number, wider: number, takeScale: boolean): Prior[] {
  const { scaleShare, shear, kerfMm, kerfDifferenceMm } = ANY_MACHINE;
  const mean = (a: number, b: number): Prior['coefficients'] => [[a, 0.5], [b, 0.5]]; // biome-ignore format: one thought
  const less = (a: number, b: number): Prior['coefficients'] => [[a, -1], [b, 1]]; // biome-ignore format: one thought
  const bothScales = takeScale ? { value: 1, sd: scaleShare } : { value: scale, sd: 1e3 * scale };
  return [
    // Both scales together: free, unless nothing tells them.
    { coefficients: mean(0, 1), ...bothScales },
    { coefficients: less(0, 1), value: 0, sd: scaleShare * (takeScale ? 1 : wider) * scale },
    { coefficients: [[2, 1]], value: 0, sd: shear * wider * scale },
    { coefficients: mean(3, 4), value: 0, sd: kerfMm * wider },
    { coefficients: less(3, 4), value: 0, sd: kerfDifferenceMm * wider },
  ];
}

/** The zero of a gauge may be anything when nothing was stated. */
const ANY_ZERO_MM = 1;
/** A zero is fitted beside the others if that makes none much less sure, or leaves it sure enough for a fine stencil. */
const MUCH = 1.5;
const SURE_ENOUGH = { scaleShare: 7e-5, shear: 1.5e-4, kerfMm: 0.003 };

/**
 * A constant for each gauge: free where the design tells it from the machine, else bounded by its limit of error, or by
 * the usual one. Taken as 0 it would go into the scales, which are then surer than they are right.
 */
function withZeros(
  bare: Design,
  gauges: readonly Gauge[],
  sds: (design: Design) => number[],
  assumed: readonly boolean[],
  start: readonly number[],
) {
  const scale = (start[0] + start[1]) / 2;
  let design = bare;
  // Gauges whose zero these readings hardly show, so that what gauges are usually off by bounds it.
  const uncheckedZeros: string[] = [];
  const enough = [SURE_ENOUGH.scaleShare * scale, SURE_ENOUGH.scaleShare * scale, SURE_ENOUGH.shear * scale];
  for (const { name, limitMm, zeroWithinMm } of gauges) {
    const own = design.lengths.filter(({ gauge, kind }) => gauge === name && kind !== 'vernier');
    if (own.length === 0) continue;
    const sd = limitMm === undefined ? ANY_ZERO_MM : uniformSd(limitMm);
    const trial = withTerm(design, zeroTerm(design.lengths, name), sd);
    const before = sds(design);
    const after = sds(trial);
    const tells = assumed.every(
      (is, k) => is || after[k] < Math.max(MUCH * before[k], enough[k] ?? SURE_ENOUGH.kerfMm),
    );
    if (limitMm !== undefined) design = withSlope(trial, name, limitMm, start);
    else if (tells) design = trial;
    else {
      uncheckedZeros.push(name);
      design = withTerm(design, zeroTerm(design.lengths, name), uniformSd(zeroWithinMm));
    }
  }
  return { design, uncheckedZeros };
}

/** A constant of all readings of a gauge. */
export function zeroTerm(lengths: readonly FitLength[], name: string): Term {
  return termOf(zeroName(name), lengths, ({ gauge, kind }) => (gauge === name && kind !== 'vernier' ? 1 : 0));
}

/** With one number more, known to lie about zero. */
export function withTerm(design: Design, term: Term, sd: number): Design {
  const prior: Prior = { coefficients: [[5 + design.terms.length, 1]], value: 0, sd };
  return { ...design, terms: [...design.terms, term], priors: [...design.priors, prior] };
}

/** With the zero of a gauge free that was seen to be off: it costs the others some certainty. */
export function withZeroOf(determined: Determined, name: string): Determined {
  return {
    ...determined,
    design: withFreeZero(determined.design, name),
    uncheckedZeros: determined.uncheckedZeros.filter((other) => other !== name),
  };
}

/** The same design, with nothing known of a gauge's zero beforehand. */
export function withFreeZero(design: Design, name: string): Design {
  const number = zeroNumber(design, name);
  const priors = design.priors.map((prior) =>
    prior.coefficients.some(([k]) => k === number) ? { ...prior, sd: ANY_ZERO_MM } : prior,
  );
  return { ...design, priors };
}

const zeroName = (gauge: string): string => `zero of ${gauge}`;

/** Number of the parameter that is a gauge's zero. */
export const zeroNumber = ({ terms }: Design, gauge: string): number =>
  5 + terms.findIndex(({ name }) => name === zeroName(gauge));

/**
 * A gauge within its limit of error may also run fast or slow: its error at full length is as large as the limit allows.
 * No reading tells that from the machine's scale, so however many there are, the limit stays in the answer.
 */
function withSlope(design: Design, name: string, limitMm: number, start: readonly number[]): Design {
  return causesOf(design.lengths, name, start).reduce((sofar, { cause, errorOf }) => {
    // Jaws and tips of one instrument run equally fast.
    if (sofar.terms.some((term) => term.name === cause)) return sofar;
    const column = Float64Array.from(design.lengths, errorOf);
    const longest = column.reduce(
      (most, mm, i) => (isReadWith(name, design.lengths[i]) ? Math.max(most, Math.abs(mm)) : most),
      0,
    );
    const term = { name: cause, column: column.map((mm) => mm / longest) };
    return withTerm(sofar, term, uniformSd(limitMm));
  }, design);
}

/** Whether a length was read with the instrument that a gauge is. */
const isReadWith = (name: string, { gauge }: FitLength): boolean => instrumentOf(gauge) === instrumentOf(name);

/**
 * What makes a gauge's lengths wrong: how fast it runs. A scanner that nobody could check is a gauge for each direction
 * ({@link directionOf}), but lengths between its axes hold the errors of both and that of its right angle, and so do
 * widths: three causes, exactly like the machine's own numbers, that no combination of readings averages away.
 *
 * @returns each with what it does to a reading, up to a factor
 */
function causesOf(lengths: readonly FitLength[], name: string, start: readonly number[]) {
  const own = directionOf(lengths, name);
  const ofOwn = (one: FitLength): number => (isReadWith(name, one) && one.kind !== 'vernier' ? one.valueMm : 0);
  if (!own) return [{ cause: `length error of ${instrumentOf(name)}`, errorOf: ofOwn }];
  const { instrument, direction } = own;
  const unread = AXES.filter((axis) => !lengths.some(({ gauge }) => gauge === spansGauge(instrument, axis)));
  const causes: readonly Direction[] = direction === 'slanted' ? [direction, ...unread] : [direction];
  return causes.map((cause) => ({
    cause: `${cause === 'slanted' ? 'squareness' : `length error along ${cause}`} of ${name}`,
    errorOf: ({ gauge, kind, dx, dy }: FitLength): number => {
      if (!gauge.startsWith(`${instrument} `) || kind === 'vernier') return 0;
      // Along the film as it was cut: along what was commanded, the machine's numbers and these would differ by a trace.
      const x = start[0] * dx + start[2] * dy;
      const y = start[1] * dy;
      return { X: x * x, Y: y * y, slanted: x * y }[cause] / Math.sqrt(x * x + y * y);
    },
  }));
}
