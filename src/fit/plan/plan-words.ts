import type { DimensionalFeature } from '../../coupon/features.js';
import { PARAMETER_NAMES, PARAMETER_TITLES, type ParameterName } from '../../machine/types.js';
import { USUAL_TARGETS } from './plan-readings.js';
import { missingIn, type NextReadings, type Reach } from './what-next.js';

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

/**
 * What the readings reach so far, which to read next, and what that would bring.
 *
 * @param reached - half-widths of the 95 % intervals as fitted; undefined: not told
 * @param found - readings that help; undefined: none do
 * @param held - why reading on would not help, in words, for numbers that it holds
 * @param left - whether these gauges can read anything more on these coupons, and whether they hold long spans, and many widths
 */
export function planSentences(
  reached: Reach,
  found: NextReadings<DimensionalFeature> | undefined,
  held: Partial<Record<ParameterName, string>> = {},
  left: Left = { any: true, spans: true, widths: true },
): string[] {
  const missing = missingIn(reached);
  const words = targetWords(PARAMETER_NAMES);
  if (missing.length === 0) return [`Enough has been read for ${words}.`];
  const say = (name: ParameterName, value: number | undefined): string =>
    value === undefined ? `${PARAMETER_TITLES[name]} is not told` : `${PARAMETER_TITLES[name]} ± ${size(name, value)}`;
  const head = `Not enough yet for ${words}: ${missing.map((name) => say(name, reached[name])).join(', ')}.`;
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
  reached: Reach,
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
