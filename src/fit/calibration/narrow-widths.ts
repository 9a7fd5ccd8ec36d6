import { axisAlong } from '../../coupon/features.js';
import type { Warning } from '../../errors.js';
import { grouped } from '../../kept.js';
import { firstOf } from '../../text.js';
import { predictLength, startParameters } from './design.js';
import type { Observation } from './observations.js';

/** Scatter of a careful hand, mm. */
const HAND_MM = 0.01;
/** What reads so many times as much was not read by chance: a slip, which is told as one. */
const NO_CHANCE = 5;
const MOST_NAMED = 5;
/** Medians of fewer widths are no measure. */
const ENOUGH_ALIKE = 5;

/**
 * Widths that read next to nothing say something of the kerf only together with those that read nothing at all. Of webs
 * about as wide as what a gauge can show, those that were read too narrow are `gone`, and those that were read too wide
 * would count: so none does, by what the others say of them and not by what they read. A ladder read by a loupe with steps
 * of 0.1 mm had come out 3 µm too small in its kerfs, half of their standard uncertainty, which then held in 92 of 100.
 *
 * @returns what counts, and what doesn't; all count across an axis where no wider ones were read
 */
export function withoutNarrow(lengths: readonly Observation[]) {
  const startOf = startsByLike(lengths);
  const isNarrow = lengths.map((length) => {
    if (length.kind !== 'opening' && length.kind !== 'web') return false;
    const leastMm = length.resolutionMm + HAND_MM;
    const expectedMm = predictLength(length, startOf(length));
    return expectedMm < leastMm && length.valueMm - Math.max(0, expectedMm) < NO_CHANCE * leastMm;
  });
  const wideAcross = new Set(lengths.filter(({ kind }, i) => (kind === 'opening' || kind === 'web') && !isNarrow[i]).map(axisAlong)); // biome-ignore format: one thought
  const isLeftOut = (length: Observation, i: number): boolean => isNarrow[i] && wideAcross.has(axisAlong(length));
  return {
    counted: lengths.filter((length, i) => !isLeftOut(length, i)),
    narrow: lengths.filter(isLeftOut),
  };
}

/**
 * The five numbers as medians of spans and of widths alike: openings and webs that one gauge read share its zero, which
 * looks like more kerf in the ones and less in the others. Where few are alike, of all.
 */
function startsByLike(lengths: readonly Observation[]): (length: Observation) => readonly number[] {
  const spans = lengths.filter(({ kind }) => kind === 'span');
  const keyOf = ({ kind, gauge }: Observation): string => `${kind} ${gauge}`;
  const starts = new Map<string, readonly number[]>();
  for (const [key, own] of grouped(lengths, keyOf))
    starts.set(key, startParameters(own.length < ENOUGH_ALIKE ? lengths : [...spans, ...own]));
  return (length) => starts.get(keyOf(length))!;
}

/** Which widths don't count, and why. */
export function narrowWarnings(narrow: readonly Observation[]): Warning[] {
  if (narrow.length === 0) return [];
  const ids = [...new Set(narrow.map(({ feature }) => feature.id))];
  const mostMm = Math.max(...narrow.map(({ resolutionMm }) => resolutionMm + HAND_MM));
  return [
    {
      code: 'TOO_NARROW_TO_COUNT',
      message: `${firstOf(ids, MOST_NAMED, MOST_NAMED - 1)}: by others like ${ids.length === 1 ? 'it' : 'them'} to be read as less than ${Number(mostMm.toFixed(4))} mm, about as little as can be read: what was read doesn't count.`,
      hint: 'Of pieces that narrow those read too wide are written down, and those read too narrow are not there: that would make the kerf wrong.',
    },
  ];
}
