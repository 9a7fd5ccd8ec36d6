import { axisAlong, type DimensionalFeature, type Feature, isForJaws, vectorOf } from '../../coupon/features.js';
import {
  byParameter,
  PARAMETER_NAMES,
  PARAMETER_TITLES,
  type ParameterName,
  type ProfileFit,
  type ReadingSession,
} from '../../machine/types.js';
import type { ReadingOrder } from '../../readings/blank-readings.js';
import { instrumentsIn, lengthsReadIn } from '../calibration/gauges.js';
import { roundingVariance } from '../calibration/scatter.js';
import type { CalibrationResult } from '../calibration/types.js';
import { type LaidWrong, wouldShow } from '../calibration/wrong-way.js';
import { studentQuantile } from '../statistics/distributions.js';
import {
  HAND_MM,
  HANDS_KNOWN,
  isStraight,
  likelyNoiseMm,
  type PlanGauge,
  planReadings,
  USUAL_GAUGE,
  USUAL_TARGETS,
} from './plan-readings.js';

const size = (name: ParameterName, value: number): string =>
  name.startsWith('kerf') ? `${(1000 * value).toFixed(1)} µm` : value.toPrecision(2);

/** A number with the half-width of its 95 % interval. */
export const sureWords = (name: ParameterName, half: number): string =>
  `${PARAMETER_TITLES[name]} ± ${size(name, half)}`;

/** What is aimed at, for the numbers that can be told. */
export function targetWords(determined: readonly ParameterName[]): string {
  const words = [
    ...(determined.some((name) => name.startsWith('scale')) ? [`scale ± ${USUAL_TARGETS.scaleX}`] : []),
    ...(determined.includes('shear') ? [`shear ± ${USUAL_TARGETS.shear}`] : []),
    ...(determined.some((name) => name.startsWith('kerf')) ? [`kerf ± ${1000 * USUAL_TARGETS.kerfXMm} µm`] : []),
  ];
  return words.length > 1 ? `${words.slice(0, -1).join(', ')} and ${words[words.length - 1]}` : words.join('');
}

/** A little more than the target is nearly enough: what few readings reach changes by as much with the next ones. */
const NEARLY = 1.25;

/** Whether numbers are as sure as they should be, to the two digits that are shown: one verdict for `enter` and `fit`. */
export function verdictOn(names: readonly ParameterName[], reached: Reached): 'enough' | 'nearly' | 'not yet' {
  const within = (times: number): boolean => names.every((name) => Number(of(reached, name).toPrecision(2)) <= times * USUAL_TARGETS[name]); // biome-ignore format: one thought
  return within(1) ? 'enough' : within(NEARLY) ? 'nearly' : 'not yet';
}

/**
 * By how much the half-widths of the 95 % intervals are likely to be wider once there are more readings: few may agree by
 * chance better than a hand does, and were called enough until the next ones came. Never below 1; of an instrument that
 * says how sure its readings are, as a scan does, it is 1.
 */
export function likelyWider(
  { parameters, scatter }: Pick<CalibrationResult, 'parameters' | 'scatter'>,
  sessions: readonly ReadingSession[],
): Record<ParameterName, number> {
  const lengths = sessions.flatMap(lengthsReadIn);
  const instruments = instrumentsIn(sessions);
  const [ofKerfs, ofRest] = [true, false].map((isKerf) => {
    const own = lengths.filter(({ feature }) => isForJaws(feature) || (feature.kind !== 'span') === isKerf);
    // Less two kerfs or three others, and the zero of the gauge.
    const { sdMm, usualMm, readings, gauge } = scatterOf(scatter, own);
    const spare = readings - (isKerf ? 3 : 4);
    return sdMm > 0 && !instruments.has(gauge)
      ? {
          noise: likelyNoiseMm({ dof: spare, residualSdMm: sdMm }, usualMm) / sdMm,
          spare: Math.max(0, spare),
        }
      : undefined;
  });
  return byParameter((name, k) => {
    const own = name.startsWith('kerf') ? ofKerfs : ofRest;
    if (parameters[k].assumed || !own) return 1;
    const t = studentQuantile(0.05, HANDS_KNOWN + own.spare) / studentQuantile(0.05, Math.max(1, parameters[k].dof));
    return Math.max(1, own.noise * t);
  });
}

/**
 * What the gauge that tells most of some lengths scatters by, what hands usually do with it, both with its rounding, and in
 * how many readings that was seen.
 */
export function scatterOf(
  scatter: CalibrationResult['scatter'],
  lengths: readonly { readonly gauge: string }[],
): { readonly sdMm: number; readonly usualMm: number; readonly readings: number; readonly gauge: string } {
  const count = ({ gauge }: { readonly gauge: string }): number => lengths.filter((one) => one.gauge === gauge).length;
  const [most] = [...scatter].sort((a, b) => count(b) - count(a));
  if (!most || count(most) === 0) return { sdMm: 0, usualMm: HAND_MM, readings: 0, gauge: '' };
  const rounding = roundingVariance(most.resolutionMm);
  return {
    sdMm: Math.sqrt(most.sdMm ** 2 + rounding),
    usualMm: Math.sqrt(HAND_MM ** 2 + rounding),
    readings: most.readings,
    gauge: most.gauge,
  };
}

/** A wider interval than the readings themselves give is told of from here on. */
const TOLD_WIDER = 1.05;
export const BY_CHANCE = 'so few readings may agree by chance';

/**
 * What the readings reach so far, which to read next, and what that would bring.
 *
 * @param reached - half-widths of the 95 % intervals as they are likely to stay; undefined: not told
 * @param found - readings that help; undefined: none do
 * @param held - why reading on would not help, in words, for numbers that it holds
 * @param left - whether these gauges can read anything more on these coupons, and whether they hold long spans, and many widths
 * @param wider - by how much they are wider for that than as fitted
 */
export function planSentences(
  reached: Reached,
  found: NextReadings<DimensionalFeature> | undefined,
  held: Partial<Record<ParameterName, string>> = {},
  left: Left = { any: true, spans: true, widths: true },
  wider: Partial<Reached> = {},
): string[] {
  const missing = missingIn(reached);
  const words = targetWords(PARAMETER_NAMES);
  const verdict = verdictOn(PARAMETER_NAMES, reached);
  if (verdict === 'enough') return [`Enough has been read for ${words}.`];
  const say = (name: ParameterName, value: number | undefined): string =>
    value === undefined ? `${PARAMETER_TITLES[name]} is not told` : sureWords(name, value);
  const hand = `${1000 * HAND_MM} µm`;
  const byChance = missing.some((name) => (wider[name] ?? 1) > TOLD_WIDER) ? `, with a hand's usual scatter of ${hand} as well, because ${BY_CHANCE}` : ''; // biome-ignore format: one sentence
  const helped = found ? helpedBy(found.most, reached, PARAMETER_NAMES) : [];
  const stay = missing.filter((name) => !helped.includes(name));
  const bring = helped.map((name) => say(name, found?.brings[name])).join(', ');
  const falls = found !== undefined && helped.some((name) => verdictOn([name], found.most) !== 'enough');
  const short = falls ? ', and no number of readings with these gauges brings enough' : '';
  const next = found && helped.length > 0 ? [`Read next, in this order: ${found.next.map(({ id }) => id).join(', ')}. That would bring ${bring}${short}.`] : []; // biome-ignore format: one sentence
  const never = staySentences(stay, reached, held, left);
  // As `enter` said it: nobody reads on for what no reading of these coupons brings.
  const isAll = missing.every((name) => stay.includes(name) && reached[name] !== undefined && (held[name] !== undefined || hasSort(left, name))); // biome-ignore format: one thought
  const judged = verdict === 'nearly' ? 'Nearly enough' : isAll ? 'About all that can be told with these gauges' : 'Not enough yet'; // biome-ignore format: one thought
  const head = `${judged}${isAll && verdict !== 'nearly' ? ', short of' : ' for'} ${words}: ${missing.map((name) => say(name, reached[name])).join(', ')}${byChance}.`;
  return next.length > 0 ? [head, [...next, ...never].join(' ')] : [[head, ...never].join(' ')];
}

export interface Left {
  readonly any: boolean;
  readonly spans: boolean;
  readonly widths: boolean;
}

const hasSort = (left: Left, name: ParameterName): boolean => (name.startsWith('kerf') ? left.widths : left.spans);

/** Why reading on would bring nothing for some numbers. */
function staySentences(
  stay: readonly ParameterName[],
  reached: Reached,
  held: Partial<Record<ParameterName, string>>,
  left: Left,
): string[] {
  const named = (names: readonly ParameterName[]): string => names.map((name) => PARAMETER_TITLES[name]).join(', ');
  const because = [...new Set(stay.flatMap((name) => held[name] ?? []))];
  const done = !left.any ? 'all that the gauges at hand can read of these coupons has been read' : 'what is left to read on these coupons hardly helps'; // biome-ignore format: one thought
  const ofSort = (isKerf: boolean): string[] => {
    const own = stay.filter((name) => name.startsWith('kerf') === isKerf && held[name] === undefined);
    const [untold, rest] = [true, false].map((is) => own.filter((name) => (reached[name] === undefined) === is));
    const [there, tell, more] = isKerf
      ? [left.widths, 'widths tell, those of aperture-ladder or of windows that a caliper grips', 'widths of aperture-ladder']
      : [left.spans, `only ${untold.every((name) => name === 'shear') ? 'slanted ' : ''}spans tell, those of scale-ruler`, 'long spans of scale-ruler']; // biome-ignore format: two rows
    return [
      ...(untold.length > 0 ? [`${named(untold)}: ${tell}.`] : []),
      ...(rest.length > 0
        ? [`${named(rest)}: ${done}; read ${there ? '' : `${more}, or `}again with a finer gauge.`]
        : []),
    ];
  };
  return [
    ...ofSort(false),
    ...ofSort(true),
    ...because.map((words) => `${named(stay.filter((name) => held[name] === words))}: ${words}.`), // biome-ignore format: one sentence
  ];
}

export type Reached = Readonly<Record<ParameterName, number | undefined>>;

/** Readings to take next, and what they bring. */
export interface NextReadings<T> {
  readonly next: readonly T[];
  readonly brings: Reached;
  /** So many reach the targets, or nearly all that there is, however many that is. */
  readonly count: number;
  /** What all that is left would bring. */
  readonly most: Reached;
}

/** More than this nobody takes in at once. */
const MOST = 25;
/** Readings that leave every missing number above this share of what it was bring nothing. */
const WORTH_READING = 0.9;
/** As good as all of them together. */
const AS_GOOD = 1.03;

/** Numbers that all that is left would narrow by so much that reading on is worth it. */
const helpedBy = (most: Reached, reached: Reached, names: readonly ParameterName[]): ParameterName[] =>
  missingIn(reached, names).filter((name) => of(most, name) < WORTH_READING * of(reached, name));

/**
 * As few of the readings of a plan, in its order, as reach the targets; where none do, as few as bring nearly all that
 * there is. None at all when even all of them would hardly help.
 *
 * @param order - the most telling first
 * @param reached - half-widths of the 95 % intervals now; undefined: not told
 * @param after - the same, once these had been read too
 * @param names - the numbers that are asked for
 */
export function whatNext<T>(
  order: readonly T[],
  reached: Reached,
  after: (next: readonly T[]) => Reached,
  names: readonly ParameterName[] = PARAMETER_NAMES,
): NextReadings<T> | undefined {
  if (missingIn(reached, names).length === 0 || order.length === 0) return undefined;
  const brings = (count: number): Reached => after(order.slice(0, count));
  const most = brings(order.length);
  const helped = helpedBy(most, reached, names);
  if (helped.length === 0) return undefined;
  const enough = (reach: Reached): boolean => helped.every((name) => of(reach, name) <= Math.max(USUAL_TARGETS[name], AS_GOOD * of(most, name))); // biome-ignore format: one thought
  let [low, high] = [0, order.length];
  while (high - low > 1) {
    const middle = (low + high) >> 1;
    if (enough(brings(middle))) high = middle;
    else low = middle;
  }
  const next = order.slice(0, Math.min(high, MOST));
  return { next, brings: brings(next.length), count: high, most };
}

/** Numbers that are not as sure as they should be, to the two digits that are shown. */
export function missingIn(reached: Reached, names: readonly ParameterName[] = PARAMETER_NAMES): ParameterName[] {
  return names.filter((name) => verdictOn([name], reached) !== 'enough');
}

const of = (reach: Reached, name: ParameterName): number => reach[name] ?? Number.POSITIVE_INFINITY;

/**
 * What no reading in these sessions could show if it were wrong as a whole, in plain sentences: a film that lay turned
 * or mirrored, axes that were interchanged, and what lengths never show; then the faults of a machine that these
 * readings are too few for.
 *
 * @param faults - that would not show, in words
 * @param gauges - those whose limit of error nobody stated: their own error is taken for the machine's
 */
export function uncheckedSentences(
  sessions: readonly ReadingSession[],
  faults: readonly string[] = [],
  gauges: readonly string[] = [],
): string[] {
  const counted = sessions.filter(({ refused }) => !refused);
  const shows = (laid: LaidWrong): boolean =>
    counted.some((session) => wouldShow(laid, readIn(session), session.features));
  const swapped = shows({ mirrored: [], swap: true });
  const turned = ([0, 1] as const).every((axis) => shows({ mirrored: [axis], swap: false }));
  // A ladder holds each width along both axes: only the kerfs of another coupon show that it was read with X for Y.
  const widths = counted.filter((session) => ['x', 'y'].every((axis) => readIn(session).some((one) => one.kind !== 'span' && axisAlong(vectorOf(one)) === axis))); // biome-ignore format: one thought
  const alone =
    swapped && widths.length === 1 && readIn(widths[0]).every((one) => one.kind !== 'span' && !isForJaws(one))
      ? widths
      : [];
  const unseen = [
    ...(turned ? [] : ['that the film lay neither turned nor mirrored']),
    ...(swapped ? [] : ['that X and Y were not interchanged']),
  ];
  const help = unseen.length > 0 ? ' (the short spans at the ends of the rulers show it: 10 mm along X, 12 mm along Y)' : ''; // biome-ignore format: one sentence
  // A ruler of a small bed has none.
  const noWindows = sessions.some(({ features }) => features.some(({ kind }) => kind === 'span')) && !sessions.some(({ features }) => features.some(isForJaws)); // biome-ignore format: one thought
  const windows = noWindows ? '' : ' (windows of the ruler that a caliper grips show it)';
  const never = [
    ...(unseen.length > 0 ? [`${unseen.join('; ')}${help}`] : []),
    ...alone.map(({ coupon }) => `that X and Y of ${coupon} were not interchanged${windows}`),
    ...gauges.map(
      (name) => `that the gauge of ${name} shows true lengths (--gauge-limit-mm states how far off it may be)`,
    ),
    'that the coupon was cut with the power, speed, passes and film of the stencils',
  ];
  return [
    `Not checked, because lengths can't show it: ${never.join('; ')}.`,
    ...(faults.length > 0
      ? [`Not checked, because these readings would not show it in 9 of 10 cases: ${faults.join('; ')}.`]
      : []),
  ];
}

/** The lengths of a session that were read. */
const readIn = (session: ReadingSession): DimensionalFeature[] => [
  ...new Set(lengthsReadIn(session).flatMap(({ feature, dropped }) => (dropped ? [] : feature))),
];

/** Fewer features than this are read all the same. */
const WORTH_A_PLAN = 12;

/** What a coupon's lengths are read with, where that is known. */
export interface ReadWith {
  readonly takes: 'edges' | 'windows';
  readonly stepMm: number;
}

/** A careful hand, or the rounding where that is more: steps of 0.01 mm are within what a hand scatters by. */
function planGauge({ takes, stepMm }: ReadWith): Partial<PlanGauge> {
  return { takes, noiseMm: Math.max(USUAL_GAUGE.noiseMm, stepMm / Math.sqrt(12)) };
}

/** The gauge as the readings so far show it, and as it is known. */
export function gaugeSoFar(
  fit: Pick<ProfileFit, 'dof' | 'residualSdMm'>,
  read: readonly Feature[],
  known?: ReadWith,
): PlanGauge {
  const straight = read.some(({ kind, ...one }) => kind === 'span' && 'from' in one && isStraight(one));
  const takes = read.some(isForJaws) ? { takes: straight ? ('both' as const) : ('windows' as const) } : {};
  const gauge = { ...USUAL_GAUGE, ...(known ? planGauge(known) : takes) };
  return { ...gauge, noiseMm: likelyNoiseMm(fit, gauge.noiseMm) };
}

/**
 * The order in which a coupon is read; undefined when there is nothing to choose.
 *
 * @param known - a caliper's windows or sighted edges come first; where nothing is known, edges and windows beside them
 */
export function couponOrder(
  { features: { features } }: { readonly features: { readonly features: readonly Feature[] } },
  known?: ReadWith,
): ReadingOrder | undefined {
  const own = known && planGauge(known.takes === 'windows' && features.some(isForJaws) ? known : { ...known, takes: 'edges' }); // biome-ignore format: one thought
  const { order, first, determined, reaches, before } = planReadings(features, { gauge: own });
  if (order.length < WORTH_A_PLAN || first >= order.length) return undefined;
  // What is out of reach is not named as if it were near.
  const reached = order[first - 1]?.reached ?? before;
  const bring = determined.map((name) => sureWords(name, reached[name])).join(', ');
  const enough = reaches ? `enough for ${targetWords(determined)}` : `they bring ${bring}`;
  const gauge = `with a gauge and a hand that scatter by ${(1000 * (own?.noiseMm ?? USUAL_GAUGE.noiseMm)).toFixed(0)} µm`;
  const lengths = order.map(({ feature }) => feature);
  const head = lengths.slice(0, first);
  const gripped = known ? [] : windowsFirst(features);
  const rest = lengths.slice(first).filter((feature) => !gripped.includes(feature));
  return {
    features: [...head, ...gripped, ...rest, ...features.filter((feature) => !('from' in feature))],
    first,
    reaches,
    forJaws: gripped.length,
    enoughFor: `${enough}, ${gauge}`,
  };
}

function windowsFirst(features: readonly Feature[]): Feature[] {
  const { order, first } = planReadings(features, { gauge: { takes: 'windows' } });
  return order.slice(0, first).flatMap(({ feature }) => (isForJaws(feature) ? [feature] : []));
}
