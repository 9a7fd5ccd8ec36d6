import type { Opening } from '../geometry/types.js';
import type { Measure } from './measure.js';
import { narrowestWithin, type Web } from './webs.js';

/**
 * `pair`: the two pads of a chip. `row`: equal pads at one pitch. `rows`: rows that face each other. `ring`: rows on
 * two or four sides of a large pad. `grid`: equal pads at one pitch in both directions. `component`: named by the
 * artwork, of no such pattern.
 */
export type GroupKind = 'pair' | 'row' | 'rows' | 'ring' | 'grid' | 'component';

/** A recognised pattern; members count from 0. */
export interface GroupPattern {
  readonly kind: GroupKind;
  readonly members: readonly number[];
  readonly pitchMm?: number;
  /** The large pad (or its panes) that the others stand around. */
  readonly centre?: readonly number[];
}

/** Openings that belong together, with the figures that describe them. */
export interface OpeningGroup {
  readonly kind: GroupKind;
  readonly component?: string;
  /** Numbers of the openings, counting from 1. */
  readonly openings: readonly number[];
  /** Numbers of the large pad or panes that the others stand around; among `openings`. */
  readonly centre: readonly number[];
  /** Distance between the centres of neighbours, mm. */
  readonly pitchMm?: number;
  /** The usual pad, in its own frame, longer side second, mm. */
  readonly padMm: readonly [number, number];
  readonly padCount: number;
  /** Narrowest web between two of them, mm; undefined when they stand more than 5 mm apart. */
  readonly webMm?: number;
}

/** Webs wider than this are of no interest to a group, mm. */
const WIDE_WEB_MM = 5;

/** Works out the figures of a pattern. */
export function describeGroup(
  pattern: GroupPattern,
  openings: readonly Opening[],
  measures: readonly Measure[],
  { component, nearest }: { readonly component?: string; readonly nearest?: readonly (Web | undefined)[] },
): OpeningGroup {
  const centre = new Set(pattern.centre ?? []);
  const pads = pattern.members.filter((i) => !centre.has(i));
  const usual = usualPad(pads.length > 0 ? pads : pattern.members, measures);
  return {
    kind: pattern.kind,
    ...(component === undefined ? {} : { component }),
    openings: pattern.members.map((i) => i + 1).sort((p, q) => p - q),
    centre: [...centre].map((i) => i + 1).sort((p, q) => p - q),
    pitchMm: pattern.pitchMm,
    padMm: usual,
    padCount: pads.length,
    webMm:
      nearest &&
      narrowestWithin(pattern.members, openings, nearest, Math.max(WIDE_WEB_MM, (pattern.pitchMm ?? 0) * 0.8)),
  };
}

/** The size that most members share, to 2 um. */
function usualPad(members: readonly number[], measures: readonly Measure[]): [number, number] {
  const counts = new Map<string, { count: number; size: [number, number] }>();
  for (const i of members) {
    const { widthMm, heightMm } = measures[i];
    const size: [number, number] = [Math.min(widthMm, heightMm), Math.max(widthMm, heightMm)];
    const key = size.map((v) => Math.round(v * 500)).join('x');
    const entry = counts.get(key);
    if (entry) entry.count += 1;
    else counts.set(key, { count: 1, size });
  }
  let best: { count: number; size: [number, number] } | undefined;
  for (const entry of counts.values()) if (!best || entry.count > best.count) best = entry;
  return best?.size ?? [0, 0];
}
