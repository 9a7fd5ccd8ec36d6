import type { ParameterName } from '../../machine/types.js';
import { PARAMETER_NAMES } from '../../machine/types.js';
import type { PlanTargets, ReadingPlan } from './plan-readings.js';

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
export function targetWords(told: readonly ParameterName[], targets: PlanTargets): string {
  const words = [
    ...(told.some((name) => name.startsWith('scale')) ? [`scale ± ${targets.scaleX}`] : []),
    ...(told.includes('shear') ? [`shear ± ${targets.shear}`] : []),
    ...(told.some((name) => name.startsWith('kerf')) ? [`kerf ± ${1000 * targets.kerfXMm} µm`] : []),
  ];
  return words.length > 1 ? `${words.slice(0, -1).join(', ')} and ${words[words.length - 1]}` : words.join('');
}

/** More ids than this nobody takes in at once. */
const MOST_IDS = 25;

/**
 * What the readings reach so far, which to read next, and what that would bring.
 *
 * @param reached - half-widths of the 95 % intervals as fitted; undefined: not told
 * @param plan - over all features that can be read, from those that have been
 */
export function planSentences(
  reached: Readonly<Record<ParameterName, number | undefined>>,
  plan: ReadingPlan,
  targets: PlanTargets,
): string[] {
  const missing = PARAMETER_NAMES.filter((name) => (reached[name] ?? Number.POSITIVE_INFINITY) > targets[name]);
  const words = targetWords(PARAMETER_NAMES, targets);
  if (missing.length === 0) return [`Enough has been read for ${words}.`];
  const now = missing.map((name) => (reached[name] === undefined ? `${NAMES[name]} is not told` : `${NAMES[name]} ± ${size(name, reached[name])}`)); // biome-ignore format: one list
  const head = `Not enough yet for ${words}: ${now.join(', ')}.`;
  const next = plan.order.slice(0, Math.min(plan.first, MOST_IDS));
  const can = missing.filter((name) => plan.told.includes(name));
  if (next.length === 0 || can.length === 0) {
    const never = missing.map((name) => NAMES[name]).join(', ');
    return [`${head} What is left to read on these coupons does not help ${never}: read again with a finer gauge, or cut and read the other coupon.`]; // biome-ignore format: one sentence
  }
  const last = next[next.length - 1].reached;
  // The plan counts with noise that is the same for all; what is fitted so far says how far that is right.
  const brings = can.map((name) => {
    const by = reached[name] === undefined ? 1 : (reached[name] ?? 0) / plan.before[name];
    return `${NAMES[name]} ± ${size(name, last[name] * Math.max(1, by))}`;
  });
  const ids = next.map(({ feature }) => feature.id).join(', ');
  return [head, `Read next, in this order: ${ids}. That would bring ${brings.join(', ')}.`];
}
