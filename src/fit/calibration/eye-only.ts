import type { Feature } from '../../coupon/features.js';
import type { Warning } from '../../errors.js';
import type { ReadingSession } from '../../machine/types.js';
import type { Observation, Observations } from './observations.js';

type Axis = 'x' | 'y';

/** Along which axis a feature lies; undefined for slanted ones. */
function axisOf({ dx, dy }: { dx: number; dy: number }): Axis | undefined {
  return dy === 0 ? 'x' : dx === 0 ? 'y' : undefined;
}

interface Ladder {
  /** The widest web that burnt away, and the narrowest wider one that stands. */
  readonly gone: Observations['eye'][number];
  readonly standing?: Feature & { readonly nominalMm: number };
}

export interface EyeReadings {
  readonly lengths: readonly Observation[];
  /** Between what the kerf lies for certain. */
  readonly brackets: readonly { readonly axis: Axis; readonly lowMm: number; readonly highMm: number }[];
  readonly warnings: readonly Warning[];
}

/** Gauge of what was seen and not measured. */
export const EYES = 'eyes';

/**
 * What eyes alone say about the kerf: it is at least as wide as the widest web that burnt away and at most as wide as
 * the next one that stands. Where no width was measured across an axis, that interval enters the fit, beside a vernier's
 * line if there is one, as one reading in the middle with the interval as its resolution: standard uncertainty
 * width/√12 (GUM, JCGM 100:2008, 4.3.7).
 *
 * @param scale - film mm per commanded mm, from the readings of lengths
 */
export function eyeReadings(all: Observations, sessions: readonly ReadingSession[], scale: number): EyeReadings {
  const lengths: Observation[] = [];
  const brackets: EyeReadings['brackets'][number][] = [];
  const warnings: Warning[] = [];
  for (const axis of ['x', 'y'] as const) {
    const read = all.lengths.some(
      (length) => (length.kind === 'opening' || length.kind === 'web') && axisOf(length) === axis,
    );
    const ladder = read ? undefined : ladderOf(axis, all, sessions);
    if (!ladder) continue;
    const { gone, standing } = ladder;
    const low = scale * Math.hypot(gone.dx, gone.dy);
    const name = axis.toUpperCase();
    if (!standing) {
      warnings.push({
        code: 'KERF_AT_LEAST',
        message: `every web across ${name} burnt away: the kerf is at least ${low.toFixed(3)} mm there, how much is not known.`,
        hint: 'Cut a coupon with wider webs, or read the widths of some openings.',
      });
      continue;
    }
    const high = scale * standing.nominalMm;
    const middle = (low + high) / 2 / scale;
    lengths.push({
      ...gone,
      kind: 'web',
      dx: axis === 'x' ? middle : 0,
      dy: axis === 'y' ? middle : 0,
      valueMm: 0,
      resolutionMm: high - low,
      nominalMm: middle,
      gauge: EYES,
      noise: `${EYES} ${axis}`,
      certain: true,
    });
    brackets.push({ axis, lowMm: low, highMm: high });
    warnings.push({
      code: 'KERF_BY_EYE',
      message: `no width was read across ${name}: the kerf is between ${low.toFixed(3)} mm (${gone.feature.id} burnt away) and ${high.toFixed(3)} mm (${standing.id} stands, as it was not marked gone).`,
      hint: 'Read the widths of some openings for a sharper answer.',
    });
  }
  return { lengths, warnings, brackets };
}

function ladderOf(axis: Axis, all: Observations, sessions: readonly ReadingSession[]): Ladder | undefined {
  const gone = all.eye
    .filter((eye) => eye.kind === 'web' && axisOf(eye) === axis)
    .sort((a, b) => Math.hypot(b.dx, b.dy) - Math.hypot(a.dx, a.dy));
  if (gone.length === 0) return undefined;
  const goneIds = new Set(gone.map(({ session, feature }) => `${session} ${feature.id}`));
  const stand = sessions
    .flatMap(({ features }, session) => features.map((feature) => ({ feature, session })))
    .flatMap(({ feature, session }) => {
      if (feature.kind !== 'web' || goneIds.has(`${session} ${feature.id}`)) return [];
      const direction = { dx: feature.to[0] - feature.from[0], dy: feature.to[1] - feature.from[1] };
      return gone.some((eye) => eye.session === session) && axisOf(direction) === axis ? [feature] : [];
    })
    .sort((a, b) => a.nominalMm - b.nominalMm);
  // What burnt away on one film and stands on another, or is narrower than what burnt away, is near the kerf: of no side.
  const sure = gone.find(({ nominalMm }) => nominalMm < (stand[0]?.nominalMm ?? Number.POSITIVE_INFINITY)) ?? gone[0];
  const standing = stand.find(({ nominalMm }) => nominalMm > gone[0].nominalMm);
  return { gone: sure, ...(standing ? { standing } : {}) };
}
