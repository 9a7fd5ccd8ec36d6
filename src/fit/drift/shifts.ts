import { present } from '../../kept.js';
import { fitVariance } from '../../machine/place-field.js';
import {
  NUMBER_NAMES,
  PARAMETER_NAMES,
  type ParameterName,
  type ProfileFit,
  type ReadingSession,
  sizeWords,
} from '../../machine/types.js';
import { capital } from '../../text.js';
import { type Design, linearise, termOf, withPriors } from '../calibration/design.js';
import { withTerm, zeroTerm } from '../calibration/determined.js';
import { gaugesOf, isToldAnew, uniformSd } from '../calibration/gauges.js';
import type { Observation } from '../calibration/observations.js';
import { weightedQr } from '../linear/weighted-qr.js';
import { type DayChange, ENOUGH_DAYS } from './drift-chart.js';
import { settleDoubt } from './session-days.js';

export type Shifts = ReturnType<typeof shiftsOf>;

/** How far one number of the machine lies from what the profile says, by some readings alone. */
export type Shift = Shifts['shifts'][number];

/** A shift less sure than this is no evidence of anything: a ratio (1 mm on 100 mm), or mm of kerf. */
const uselessFor = (parameter: ParameterName): number => (parameter.startsWith('kerf') ? 0.05 : 0.01);
/** Numbers that can hardly be told apart are looked at one at a time. */
const LEAST_LEFT = 0.2;

/**
 * Shifts of the machine's numbers against a profile: the residuals of readings about its prediction, projected onto
 * what each number does to them, beside a zero of each gauge within what gauges are off by. All numbers together where the
 * readings can tell them apart, else each as if it alone had moved, so that even a single reading says something.
 *
 * @param sdMm - standard deviation of each reading, mm
 * @param sessions - that the readings are of: limits of error stand there; undefined: zeros are of no account
 * @returns about: sum of (residual about the profile / standard deviation)², and how many there are; within: the same once
 *   the shifts are taken out
 */
export function shiftsOf(
  lengths: readonly Observation[],
  sdMm: readonly number[],
  fit: ProfileFit,
  sessions: readonly ReadingSession[] | undefined,
) {
  const design = sessions ? withCommon(lengths, sessions) : { lengths, terms: [], priors: [] };
  const { columns, residuals } = linearise(design, [...parameterValues(fit), ...design.terms.map(() => 0)]);
  const weights = withPriors(Float64Array.from(sdMm, (sd) => 1 / sd ** 2), design); // biome-ignore format: one call
  const count = lengths.length;
  const product = (a: Float64Array, b: Float64Array): number => a.reduce((sum, x, i) => sum + x * b[i] * weights[i], 0);
  const isScaled = !lengths.every(isScan) || tellsScale(lengths);
  const determined = [...PARAMETER_NAMES.keys()].filter((k) => {
    const name = PARAMETER_NAMES[k];
    const isSure = product(columns[k], columns[k]) > 1 / uselessFor(name) ** 2;
    return (isScaled || name.startsWith('kerf')) && !fit[name].assumed && isSure;
  });
  const left = (numbers: readonly number[]) => {
    const used = [...numbers.map((k) => columns[k]), ...columns.slice(PARAMETER_NAMES.length)];
    const { solution, inverse } = weightedQr(used, residuals, weights);
    const explained = used.reduce((total, one, j) => total + solution[j] * product(one, residuals), 0);
    const shifts = numbers.map((number, a) => {
      const zeroVariance = design.priors.reduce(
        (sum, { sd }, g) => sum + (inverse[a][numbers.length + g] / sd) ** 2,
        0,
      );
      // What each of the profile's numbers adds to the shift, by the readings.
      const ofProfile = PARAMETER_NAMES.map((_, k) => used.reduce((sum, one, j) => sum + inverse[a][j] * product(one, columns[k]), 0)); // biome-ignore format: one sum
      return {
        parameter: PARAMETER_NAMES[number],
        shift: solution[a],
        /** From the readings' own scatter. */
        ownVariance: inverse[a][a] - zeroVariance,
        /** From the zero of the gauges, which days on which the same piece was read have in common. */
        zeroVariance,
        /** Of what the profile says, as far as it bears on the shift. */
        profileVariance: varianceBy(fit, ofProfile),
      };
    });
    return { shifts, sum: Math.max(0, product(residuals, residuals) - explained) };
  };
  const about = { sum: left([]).sum, count };
  const apart =
    determined.length > 1 &&
    count >= determined.length &&
    weightedQr(determined.map((k) => columns[k]), residuals, weights).leastLeft > LEAST_LEFT; // biome-ignore format: one thought
  if (!apart) return { shifts: determined.flatMap((k) => left([k]).shifts), about, within: { sum: 0, dof: 0 } };
  const { shifts, sum } = left(determined);
  return { shifts, about, within: { sum, dof: count - determined.length } };
}

const isScan = ({ gauge }: Observation): boolean => gauge.startsWith('scanner ');
/** Widths that a scanner read say nothing of the machine's scale beside the scanner's own. */
const tellsScale = (lengths: readonly Observation[]): boolean => lengths.some(({ gauge }) => isToldAnew(gauge));

/** What readings have in common, and how far it may lie from what it was in the profile's: zeros of gauges, the scale of a scan. */
function withCommon(lengths: readonly Observation[], sessions: readonly ReadingSession[]): Design {
  // What a scanner sees too far out, it saw in the profile's scans, too.
  const read = lengths.filter((length) => length.kind !== 'vernier' && !isScan(length));
  const zeros = gaugesOf(read, sessions, undefined).reduce<Design>(
    (design, { name, limitMm, zeroWithinMm }) =>
      withTerm(design, zeroTerm(lengths, name), uniformSd(limitMm ?? zeroWithinMm)),
    { lengths, terms: [], priors: [] },
  );
  // Its scale is told anew each time: widths alone have all of it, and with spans it is in these.
  const scanned = lengths.filter(isScan);
  if (scanned.length === 0 || tellsScale(scanned)) return zeros;
  const longest = Math.max(...scanned.map(({ valueMm }) => valueMm));
  const limit = Math.max(0, ...gaugesOf(scanned, sessions, undefined).map(({ limitMm = 0 }) => limitMm));
  if (limit === 0) return zeros;
  return (['dx', 'dy'] as const).reduce((design, along) => {
    const term = termOf(`scale along ${along}`, lengths, (length) =>
      isScan(length) ? ((length.valueMm / longest) * Math.abs(length[along])) / Math.hypot(length.dx, length.dy) : 0,
    );
    return withTerm(design, term, uniformSd(limit));
  }, zeros);
}

/** Variance of a sum of the profile's numbers; what it only assumed bears on nothing. */
function varianceBy(fit: ProfileFit, row: readonly number[]): number {
  return fitVariance(fit, row.map((value, k) => (fit[PARAMETER_NAMES[k]].assumed ? 0 : value))); // biome-ignore format: one call
}

export function parameterValues(fit: ProfileFit): number[] {
  return PARAMETER_NAMES.map((name) => fit[name].value);
}

const signed = (parameter: ParameterName, size: number): string =>
  `${size < 0 ? '−' : '+'}${sizeWords(parameter, Math.abs(size))}`;

/** One number's shift, and against what it was seen. */
function seenWords({ parameter, shift, chart, days, against }: Omit<ChartedShift, 'say'>): string {
  const what = capital(NUMBER_NAMES[parameter]);
  if (chart === 'trend') return `${what}: over ${days} days it has drifted by ${signed(parameter, shift)}`;
  const who = days === 1 ? 'the new readings are off by' : `the last ${days} days, these readings included, are off by`;
  // Beside few days of the same piece all that the others say is heard.
  const before = against < ENOUGH_DAYS ? 'all earlier readings' : `the mean of ${against} earlier days`;
  const from = against > 0 ? before : 'what the profile says';
  return `${what}: ${who} ${signed(parameter, shift)} from ${from}`;
}

/** One number's shift against its limits. */
export function shiftWords(held: Omit<ChartedShift, 'say'>): string {
  const { parameter, limit, beyond } = held;
  return `${seenWords(held)}, ${beyond ? 'outside' : 'inside'} the limits of ± ${sizeWords(parameter, limit)}.`;
}

const NO_CHANGE = 'No change was seen: the new readings agree with the profile.';

/** Neither changed nor not: what is off, how rarely chance makes that, and what settles it. */
function doubtWords({ shifts, doubtful }: Pick<ReadingsAgainstProfile, 'shifts' | 'doubtful'>): string[] {
  const off = shifts.filter(({ parameter }) => doubtful.includes(parameter));
  const names = off.map(({ parameter }) => NUMBER_NAMES[parameter]).join(', ');
  return [
    `Doubtful: ${names}. The machine may have changed, or it is chance.`,
    ...off.map(
      (one) =>
        `${seenWords(one)}. From ± ${sizeWords(one.parameter, one.limit)} on a change is sure; chance alone makes this much in 1 of ${Number((1 / (one.chance * shifts.length)).toPrecision(1))} additions of readings.`,
    ),
    `The new readings count, with wider uncertainties, until later ones settle it. Before you cut stencils, ${settleDoubt()}.`,
  ];
}

/** Nothing changed for sure: what is in doubt, what would have been seen, and of what these readings say nothing. */
function quietWords(result: Omit<ReadingsAgainstProfile, 'sentences'>): string[] {
  const { leastSeen, doubtful } = result;
  const telling = leastSeen.filter(({ parameter, change }) => change <= uselessFor(parameter));
  const least = telling.map(({ parameter, change }) => `${NUMBER_NAMES[parameter]} ${sizeWords(parameter, change)}`);
  const mute = PARAMETER_NAMES.filter((name) => !telling.some(({ parameter }) => parameter === name));
  const rest =
    mute.length > 0
      ? ` They say nothing of a change of ${mute.map((name) => NUMBER_NAMES[name]).join(', ')}: for that, cut and read the coupon that told it.`
      : '';
  return [
    ...(doubtful.length > 0 ? doubtWords(result) : [NO_CHANGE]),
    least.length > 0
      ? `The smallest change that they would have shown on their own (9 times in 10): ${least.join(', ')}.${rest} Smaller ones show as days add up.`
      : 'They are too few to show a change of anything.',
  ];
}

/** The verdict, what changed by how much, what could have been seen, and what the readings as a whole say. */
export function verdictWords(
  result: Omit<ReadingsAgainstProfile, 'sentences'>,
  farOff: boolean,
  scattered: boolean,
): string[] {
  const { shifts, refusedBefore, distance, scatterRatio } = result;
  const moved = shifts.filter(({ beyond }) => beyond);
  const names = moved.map(({ parameter }) => NUMBER_NAMES[parameter]).join(', ');
  const { f, readings, pValue } = distance;
  const many = readings === 1 ? 'The one new reading lies' : `The ${readings} new readings lie`;
  const isSeen = moved.length > 0 || farOff;
  const alone = isSeen ? '' : ' The new readings by themselves show no change, but do not undo that one.';
  return present(
    moved.length > 0 && `Changed since the profile was made: ${names}.`,
    ...moved.map(({ say }) => say),
    moved.length > 0 &&
      moved.every(({ chart }) => chart === 'trend') &&
      'No day stands out: the machine has drifted slowly.',
    farOff &&
      `${many} ${Math.sqrt(f).toFixed(1)} times as far from what the profile says as readings scatter (F = ${f.toFixed(1)}, chance ${pValue < 1e-4 ? 'below 0.0001' : pValue.toPrecision(2)}).`,
    refusedBefore.length > 0 && `Refused before, and not settled since: ${refusedBefore.join(', ')}.${alone}`,
    ...(result.changed ? [] : quietWords(result)),
    scattered &&
      scatterRatio !== undefined &&
      `The new readings scatter ${scatterRatio.toFixed(1)} times as much among themselves as the earlier ones: look at the gauge and at how they were read.`,
  );
}

/** One number of the machine as the new readings show it, against the days before. */
export interface ChartedShift extends Omit<DayChange, 'kind' | 'size'> {
  readonly parameter: ParameterName;
  /** New readings, less what the profile (or the mean of the days before) says: a ratio or mm; of a trend: its whole size. */
  readonly shift: number;
  /** The newest day or days (`days`, the new one included) against those before; a trend over all days. */
  readonly chart: 'newest' | 'trend';
  /** Days before on which the same piece was read, that it is held against; 0: the profile's prediction. */
  readonly against: number;
  readonly say: string;
}

export interface ReadingsAgainstProfile {
  /** The most telling test of each number. */
  readonly shifts: readonly ChartedShift[];
  /** The smallest change of each number that this one day would have shown in nine cases of ten: a ratio or mm. */
  readonly leastSeen: readonly { readonly parameter: ParameterName; readonly change: number }[];
  /** Days that were refused before and that nothing has settled since. */
  readonly refusedBefore: readonly string[];
  /** Mean square of the new readings' distance from the profile, over what it should be, with the F test. */
  readonly distance: { readonly f: number; readonly readings: number; readonly pValue: number };
  /** Scatter of the new readings among themselves over the usual one; undefined when there are too few of them. */
  readonly scatterRatio?: number;
  /** The one verdict: these readings are not to be pooled with those of the profile. */
  readonly changed: boolean;
  /** Where nothing is sure: numbers that are off by what chance hardly makes, so that the piece should be read again. */
  readonly doubtful: readonly ParameterName[];
  /** Plain sentences, the verdict first. */
  readonly sentences: readonly string[];
}
