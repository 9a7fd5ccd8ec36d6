import type { Opening } from '../geometry/types.js';
import { listIn } from '../kept.js';
import { describeGroup, type GroupPattern, type OpeningGroup } from './group-pattern.js';
import { findPatterns } from './group-patterns.js';
import type { Measure } from './measure.js';
import type { Web } from './webs.js';

export type { GroupKind, OpeningGroup } from './group-pattern.js';

/**
 * Finds openings that belong together: by component where the artwork names it (Gerber .C and .P object attributes),
 * elsewhere by equal shapes in rows, pairs, grids, and rows around a large pad.
 *
 * @param measures - one per opening
 * @param nearest - each opening's nearest web; not given: groups come without theirs
 * @returns groups of two or more; no opening is in two of them
 */
export function groupOpenings(
  openings: readonly Opening[],
  measures: readonly Measure[],
  nearest?: readonly (Web | undefined)[],
): OpeningGroup[] {
  const byComponent = new Map<string, number[]>();
  const unnamed: number[] = [];
  openings.forEach(({ tag }, i) => {
    if (tag?.component === undefined) {
      unnamed.push(i);
      return;
    }
    listIn(byComponent, tag.component).push(i);
  });
  const groups: OpeningGroup[] = [];
  for (const [component, members] of byComponent) {
    if (members.length > 1)
      groups.push(describeGroup(componentPattern(members, measures), openings, measures, { component, nearest }));
  }
  for (const pattern of findPatterns(unnamed, measures))
    groups.push(describeGroup(pattern, openings, measures, { nearest }));
  return groups;
}

/** A component is one group, whatever patterns its pads form. */
function componentPattern(members: readonly number[], measures: readonly Measure[]): GroupPattern {
  const patterns = findPatterns(members, measures, true);
  if (patterns.length === 1 && patterns[0].members.length === members.length) return patterns[0];
  const largest = patterns.reduce<GroupPattern | undefined>(
    (best, pattern) => (best && best.members.length >= pattern.members.length ? best : pattern),
    undefined,
  );
  return { kind: 'component', members, pitchMm: largest?.pitchMm };
}
