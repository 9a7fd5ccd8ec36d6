import { byParameter, PARAMETER_NAMES, type ParameterName } from '../../machine/types.js';
import { USUAL_TARGETS } from './plan-readings.js';

export type Reach = Readonly<Record<ParameterName, number | undefined>>;

/** Readings to take next, and what they bring. */
export interface NextReadings<T> {
  readonly next: readonly T[];
  readonly brings: Reach;
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
  reached: Reach,
  after: (next: readonly T[]) => Reach,
): NextReadings<T> | undefined {
  const missing = missingIn(reached);
  const all = order.slice(0, MOST);
  if (missing.length === 0 || all.length === 0) return undefined;
  const now = after([]);
  const brings = (count: number): Reach => calibrated(reached, now, after(all.slice(0, count)));
  const most = brings(all.length);
  const helped = missing.filter((name) => of(most, name) < WORTH_READING * of(reached, name));
  if (helped.length === 0) return undefined;
  const enough = (reach: Reach): boolean => helped.every((name) => of(reach, name) <= Math.max(USUAL_TARGETS[name], AS_GOOD * of(most, name))); // biome-ignore format: one thought
  let [low, high] = [0, all.length];
  while (high - low > 1) {
    const middle = (low + high) >> 1;
    if (enough(brings(middle))) high = middle;
    else low = middle;
  }
  return { next: all.slice(0, high), brings: brings(high) };
}

/** Numbers that are not as sure as they should be, to the two digits that are shown. */
export function missingIn(reached: Reach): ParameterName[] {
  return PARAMETER_NAMES.filter((name) => !(Number(of(reached, name).toPrecision(2)) <= USUAL_TARGETS[name]));
}

const of = (reach: Reach, name: ParameterName): number => reach[name] ?? Number.POSITIVE_INFINITY;

/** What was foreseen, on the footing of what the fit says now: coarse gauges, days and faults of the machine widen it. */
function calibrated(reached: Reach, now: Reach, then: Reach): Reach {
  return byParameter((name) => {
    const [is, was, will] = [reached[name], now[name], then[name]];
    if (is === undefined || was === undefined || will === undefined) return will;
    // A large part that no reading narrows stays; else both shrink alike.
    const stays = is * is - was * was;
    return stays > was * was ? Math.sqrt(will * will + stays) : (will * is) / was;
  });
}
