import { type DimensionalFeature, isForJaws } from '../../coupon/features.js';
import {
  byParameter,
  PARAMETER_NAMES,
  PARAMETER_TITLES,
  type ParameterName,
  type ReadingSession,
} from '../../machine/types.js';
import { lengthsReadIn } from '../calibration/gauges.js';
import { roundingVariance } from '../calibration/scatter.js';
import type { CalibrationResult } from '../calibration/types.js';
import { studentQuantile } from '../statistics/distributions.js';
import { HANDS_KNOWN, likelyNoiseMm, USUAL_GAUGE, USUAL_TARGETS } from './plan-readings.js';

const size = (name: ParameterName, value: number): string =>
  name.startsWith('kerf') ? `${(1000 * value).toFixed(1)} µm` : value.toPrecision(2);

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
 * chance better than a hand does, and were called enough until the next ones came. Never below 1.
 */
export function likelyWider(
  { parameters, scatter }: Pick<CalibrationResult, 'parameters' | 'scatter'>,
  sessions: readonly ReadingSession[],
): Record<ParameterName, number> {
  const lengths = sessions.flatMap(lengthsReadIn);
  const [ofKerfs, ofRest] = [true, false].map((isKerf) => {
    const own = lengths.filter(({ feature }) => isForJaws(feature) || (feature.kind !== 'span') === isKerf);
    const count = ({ gauge }: { readonly gauge: string }): number => own.filter((one) => one.gauge === gauge).length;
    // The gauge that tells most of it: less two kerfs or three others, and its zero.
    const [most] = [...scatter].sort((a, b) => count(b) - count(a));
    const sdMm = most ? Math.sqrt(most.sdMm ** 2 + roundingVariance(most.resolutionMm)) : 0;
    const spare = most ? most.readings - (isKerf ? 3 : 4) : 0;
    return sdMm > 0
      ? {
          noise: likelyNoiseMm({ dof: spare, residualSdMm: sdMm }, USUAL_GAUGE.noiseMm) / sdMm,
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
    value === undefined ? `${PARAMETER_TITLES[name]} is not told` : `${PARAMETER_TITLES[name]} ± ${size(name, value)}`;
  const hand = `${1000 * USUAL_GAUGE.noiseMm} µm`;
  const byChance = missing.some((name) => (wider[name] ?? 1) > TOLD_WIDER) ? `, with a hand's usual scatter of ${hand} as well, because ${BY_CHANCE}` : ''; // biome-ignore format: one sentence
  const head = `${verdict === 'nearly' ? 'Nearly enough' : 'Not enough yet'} for ${words}: ${missing.map((name) => say(name, reached[name])).join(', ')}${byChance}.`;
  const helped = missing.filter((name) => found && say(name, found.brings[name]) !== say(name, reached[name]));
  const stay = missing.filter((name) => !helped.includes(name));
  const bring = helped.map((name) => say(name, found?.brings[name])).join(', ');
  const next = found && helped.length > 0 ? [`Read next, in this order: ${found.next.map(({ id }) => id).join(', ')}. That would bring ${bring}.`] : []; // biome-ignore format: one sentence
  const never = staySentences(stay, reached, held, left);
  return next.length > 0 ? [head, [...next, ...never].join(' ')] : [[head, ...never].join(' ')];
}

interface Left {
  readonly any: boolean;
  readonly spans: boolean;
  readonly widths: boolean;
}

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
      : [left.spans, 'only spans tell, those of scale-ruler', 'long spans of scale-ruler']; // biome-ignore format: two rows
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
}

/** More than this nobody takes in at once. */
const MOST = 25;
/** Readings that leave every missing number within this share of what it was bring nothing. */
const WORTH_READING = 0.95;
/** As good as all of them together. */
const AS_GOOD = 1.03;

/**
 * As few of the readings of a plan, in its order, as reach the targets; where none do, as few as bring nearly all that
 * there is. None at all when they would hardly help.
 *
 * @param order - the most telling first
 * @param reached - half-widths of the 95 % intervals now; undefined: not told
 * @param after - the same, once these had been read too
 */
export function whatNext<T>(
  order: readonly T[],
  reached: Reached,
  after: (next: readonly T[]) => Reached,
): NextReadings<T> | undefined {
  const missing = missingIn(reached);
  const all = order.slice(0, MOST);
  if (missing.length === 0 || all.length === 0) return undefined;
  const now = after([]);
  const brings = (count: number): Reached => calibrated(reached, now, after(all.slice(0, count)));
  const most = brings(all.length);
  const helped = missing.filter((name) => of(most, name) < WORTH_READING * of(reached, name));
  if (helped.length === 0) return undefined;
  const enough = (reach: Reached): boolean => helped.every((name) => of(reach, name) <= Math.max(USUAL_TARGETS[name], AS_GOOD * of(most, name))); // biome-ignore format: one thought
  let [low, high] = [0, all.length];
  while (high - low > 1) {
    const middle = (low + high) >> 1;
    if (enough(brings(middle))) high = middle;
    else low = middle;
  }
  return { next: all.slice(0, high), brings: brings(high) };
}

/** Numbers that are not as sure as they should be, to the two digits that are shown. */
function missingIn(reached: Reached): ParameterName[] {
  return PARAMETER_NAMES.filter((name) => verdictOn([name], reached) !== 'enough');
}

const of = (reach: Reached, name: ParameterName): number => reach[name] ?? Number.POSITIVE_INFINITY;

/** What was foreseen, on the footing of what the fit says now: coarse gauges, days and faults of the machine widen it. */
function calibrated(reached: Reached, now: Reached, then: Reached): Reached {
  return byParameter((name) => {
    const [is, was, will] = [reached[name], now[name], then[name]];
    if (is === undefined || was === undefined || will === undefined) return will;
    // A large part that no reading narrows stays; else both shrink alike.
    const stays = is * is - was * was;
    return stays > was * was ? Math.sqrt(will * will + stays) : (will * is) / was;
  });
}
