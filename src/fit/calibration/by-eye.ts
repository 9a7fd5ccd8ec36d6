import { type Feature, isForJaws } from '../../coupon/features.js';
import type { Warning } from '../../errors.js';
import type { Profile, ReadingSession } from '../../machine/types.js';
import { firstOf } from '../../text.js';
import { predictLength } from './design.js';
import type { EyeObservation, Observation, Observations } from './observations.js';

interface Piece {
  readonly id: string;
  readonly filmMm: number;
  readonly survives: boolean;
  /** Said to have failed, against what the other readings say. */
  readonly doubted: boolean;
}

type Flagged = readonly { readonly session: number; readonly index: number }[];

/**
 * The smallest opening that comes through and the smallest web that stands, from what was `closed` or `gone`: the
 * smallest of which it and all wider ones did. Widths as on the film. Where nothing failed the limit lies below what was
 * tried, and that is said instead. What stands against other readings is no evidence until somebody has looked again.
 *
 * @param flagged - readings that stand out, by session and index
 * @param brackets - between what the kerf lies where eyes alone tell it
 */
export function processLimits(
  all: Observations,
  sessions: readonly ReadingSession[],
  parameters: readonly number[],
  flagged: Flagged,
  brackets: EyeReadings['brackets'],
): Profile['limits'] {
  const [openings, webs] = (['opening', 'web'] as const).map((kind) => pieces(kind, all, sessions, atMost(kind, parameters, brackets), flagged)); // biome-ignore format: one thought
  // What is narrower than a step of the gauge can't be told from what is not there.
  const stepMm = Math.max(0, ...all.lengths.map(({ kind, resolutionMm }) => (kind === 'opening' || kind === 'web' ? resolutionMm : 0))); // biome-ignore format: one thought
  const [opening, web] = [openings, webs].map((tried) => smallest(tried.filter(({ doubted }) => !doubted), stepMm)); // biome-ignore format: one call
  const [opened, stood] = [openings, webs].map((tried) => smallestTried(tried.filter(({ doubted }) => !doubted)));
  const evidence = [
    ...(opening ? [`openings: ${opening.failed} did not come through${sayBest(opening, 'came through')}`] : []),
    ...(web ? [`webs: ${web.failed} burnt away${sayBest(web, 'stands')}`] : []),
    ...(opened ? [`openings: all${sayBut(openings)} came through, down to ${sayTried(opened)}; the limit lies below it`] : []), // biome-ignore format: one thought
    ...(stood ? [`webs: all${sayBut(webs)} stand, down to ${sayTried(stood)}; the limit lies below it`] : []),
  ];
  if (evidence.length === 0) return undefined;
  return {
    ...(opening?.best ? { minOpeningMm: rounded(opening.best.filmMm) } : {}),
    ...(web?.best ? { minWebMm: rounded(web.best.filmMm) } : {}),
    ...(opened ? { smallestOpenedMm: rounded(opened.filmMm) } : {}),
    ...(stood ? { smallestStoodMm: rounded(stood.filmMm) } : {}),
    evidence,
  };
}

/** Where the kerf is only known to lie between two widths, the one that leaves the piece widest: no limit is told too small. */
function atMost(kind: 'opening' | 'web', parameters: readonly number[], brackets: EyeReadings['brackets']): number[] {
  const bounded = [...parameters];
  for (const { axis, lowMm, highMm } of brackets) bounded[axis === 'x' ? 3 : 4] = kind === 'web' ? lowMm : highMm;
  return bounded;
}

const rounded = (mm: number): number => Math.round(mm * 1e4) / 1e4;

/** A ladder has at least so many steps; a few odd openings say nothing about limits. */
const LADDER_STEPS = 3;

/** The smallest of a ladder of which nothing failed. */
function smallestTried(all: readonly Piece[]): Piece | undefined {
  const tried = all.filter(({ filmMm }) => filmMm > 0);
  const steps = new Set(tried.map(({ filmMm }) => rounded(filmMm)));
  if (all.some(({ survives }) => !survives) || steps.size < LADDER_STEPS) return undefined;
  return tried.reduce((a, b) => (b.filmMm < a.filmMm ? b : a));
}

function sayBut(all: readonly Piece[]): string {
  const ids = [...new Set(all.filter(({ doubted }) => doubted).map(({ id }) => id))];
  return ids.length === 0 ? '' : ` but ${ids.join(', ')}, to be looked at again,`;
}

const sayTried = ({ id, filmMm }: Piece): string => `${id} (${rounded(filmMm).toFixed(3)} mm on the film)`;

interface Smallest {
  readonly best?: Piece;
  readonly failed: string;
}

function sayBest({ best }: Smallest, did: string): string {
  return best
    ? `; ${best.id} (${rounded(best.filmMm).toFixed(3)} mm on the film) ${did}, and all wider ones`
    : '; no wider one was tried';
}

function smallest(all: readonly Piece[], leastMm: number): Smallest | undefined {
  const failed = all.filter(({ survives }) => !survives);
  if (failed.length === 0) return undefined;
  const limit = Math.max(...failed.map(({ filmMm }) => filmMm));
  const above = all.filter(({ survives, filmMm }) => survives && filmMm > Math.max(limit, leastMm));
  const best = above.sort((a, b) => a.filmMm - b.filmMm)[0];
  const names = [...new Set(failed.map(({ id }) => id))];
  return {
    ...(best ? { best } : {}),
    failed: firstOf(names, 5, 4),
  };
}

/** Every opening or web that was looked at, and of coupons of which something failed also those that were not marked. */
function pieces(
  kind: 'opening' | 'web',
  all: Observations,
  sessions: readonly ReadingSession[],
  parameters: readonly number[],
  flagged: Flagged,
): Piece[] {
  const isFlagged = (eye: EyeObservation): boolean =>
    flagged.some(({ session, index }) => session === eye.session && index === eye.index);
  const doubted = new Set(all.eye.filter(isFlagged).map(({ session, feature }) => `${session} ${feature.id}`));
  const failed = new Set(
    all.eye.filter((eye) => eye.kind === kind).map(({ session, feature }) => `${session} ${feature.id}`),
  );
  const read = new Set(all.lengths.map(({ session, feature }) => `${session} ${feature.id}`));
  return sessions.flatMap(({ features }, session) => {
    const anyFailed = features.some(({ id }) => failed.has(`${session} ${id}`) && !doubted.has(`${session} ${id}`));
    return features.flatMap((feature): Piece[] => {
      if (feature.kind !== kind || isForJaws(feature)) return [];
      const key = `${session} ${feature.id}`;
      if (!failed.has(key) && !read.has(key) && !anyFailed) return [];
      const [dx, dy] = [feature.to[0] - feature.from[0], feature.to[1] - feature.from[1]];
      const filmMm = predictLength({ kind, dx, dy }, parameters);
      return [{ id: feature.id, filmMm, survives: !failed.has(key), doubted: doubted.has(key) }];
    });
  });
}

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
