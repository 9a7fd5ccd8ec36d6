import type { DimensionalFeature } from '../../coupon/features.js';
import type { ParameterName } from '../../machine/types.js';
import { PARAMETER_NAMES } from '../../machine/types.js';
import type { PlanTargets } from './plan-readings.js';
import type { NextReadings, Reach } from './what-next.js';

const NAMES: Record<ParameterName, string> = {
  scaleX: 'scale X',
  scaleY: 'scale Y',
  shear: 'shear',
  kerfXMm: 'kerf X',
  kerfYMm: 'kerf Y',
};

const size = (name: ParameterName, value: number): string =>
  name.startsWith('kerf') ? `${(1000 * value).toFixed(1)} µm` : value.toPrecision(2);

/** What is aimed at, for the numbers that can be told. */
export function targetWords(determined: readonly ParameterName[], targets: PlanTargets): string {
  const words = [
    ...(determined.some((name) => name.startsWith('scale')) ? [`scale ± ${targets.scaleX}`] : []),
    ...(determined.includes('shear') ? [`shear ± ${targets.shear}`] : []),
    ...(determined.some((name) => name.startsWith('kerf')) ? [`kerf ± ${1000 * targets.kerfXMm} µm`] : []),
  ];
  return words.length > 1 ? `${words.slice(0, -1).join(', ')} and ${words[words.length - 1]}` : words.join('');
}

/**
 * What the readings reach so far, which to read next, and what that would bring.
 *
 * @param reached - half-widths of the 95 % intervals as fitted; undefined: not told
 * @param found - readings that help; undefined: none do
 */
export function planSentences(
  reached: Reach,
  found: NextReadings<DimensionalFeature> | undefined,
  targets: PlanTargets,
): string[] {
  const missing = PARAMETER_NAMES.filter((name) => (reached[name] ?? Number.POSITIVE_INFINITY) > targets[name]);
  const words = targetWords(PARAMETER_NAMES, targets);
  if (missing.length === 0) return [`Enough has been read for ${words}.`];
  const say = (name: ParameterName, value: number | undefined): string =>
    value === undefined ? `${NAMES[name]} is not told` : `${NAMES[name]} ± ${size(name, value)}`;
  const head = `Not enough yet for ${words}: ${missing.map((name) => say(name, reached[name])).join(', ')}.`;
  if (!found) {
    const never = missing.map((name) => NAMES[name]).join(', ');
    return [`${head} What is left to read on these coupons hardly helps ${never}: read again with a finer gauge, or cut and read the other coupon.`]; // biome-ignore format: one sentence
  }
  const ids = found.next.map(({ id }) => id).join(', ');
  const brings = missing.filter((name) => found.brings[name] !== undefined);
  const bring = brings.map((name) => say(name, found.brings[name])).join(', ');
  const open = missing.filter((name) => found.brings[name] === undefined).map((name) => NAMES[name]);
  const rest = open.length > 0 ? ` ${open.join(', ')}: only the other coupon tells.` : '';
  return [head, `Read next, in this order: ${ids}. That would bring ${bring}.${rest}`];
}
