import { axisAlong, isForJaws, vectorOf } from '../../coupon/features.js';
import type { Warning } from '../../errors.js';
import type { Profile, ReadingSession } from '../../machine/types.js';
import { firstOf } from '../../text.js';
import { predictLength } from './design.js';
import type { EyeObservation, Observation, Observations } from './observations.js';

type Piece = ReturnType<typeof pieces>[number];

type Flagged = readonly { readonly session: number; readonly index: number }[];

const WORDS = {
  opening: { failed: 'did not come through', did: 'came through', do: 'came through' },
  web: { failed: 'burnt away', did: 'stands', do: 'stand' },
} as const;

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
  // What is narrower than a step of the gauge can't be told from what is not there.
  const stepMm = Math.max(0, ...all.lengths.map(({ kind, resolutionMm }) => (kind === 'opening' || kind === 'web' ? resolutionMm : 0))); // biome-ignore format: one thought
  const tried = (['opening', 'web'] as const).map((kind) => {
    const own = pieces(kind, all, sessions, atMost(kind, parameters, brackets), flagged);
    const sure = own.filter(({ doubted }) => !doubted);
    return { kind, own, failed: sure.filter(({ survives }) => !survives), ...smallestOf(sure, stepMm) };
  });
  const evidence = [
    ...tried.flatMap(({ kind, failed, best }) => {
      const names = firstOf([...new Set(failed.map(({ id }) => id))], 5, 4);
      const last = best ? `${sayWidth(best)} ${WORDS[kind].did}, and all wider ones` : 'no wider one was tried';
      return failed.length > 0 ? [`${kind}s: ${names} ${WORDS[kind].failed}; ${last}`] : [];
    }),
    ...tried.flatMap(({ kind, own, least }) =>
      least
        ? [`${kind}s: all${sayBut(own)} ${WORDS[kind].do}, down to ${sayWidth(least)}; the limit lies below it`]
        : [],
    ),
  ];
  if (evidence.length === 0) return undefined;
  const [opening, web] = tried;
  return {
    ...(opening.best ? { minOpeningMm: rounded(opening.best.filmMm) } : {}),
    ...(web.best ? { minWebMm: rounded(web.best.filmMm) } : {}),
    ...(opening.least ? { smallestOpenedMm: rounded(opening.least.filmMm) } : {}),
    ...(web.least ? { smallestStoodMm: rounded(web.least.filmMm) } : {}),
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

const sayWidth = ({ id, filmMm }: Piece): string => `${id} (${rounded(filmMm).toFixed(3)} mm on the film)`;

function sayBut(all: readonly Piece[]): string {
  const ids = [...new Set(all.filter(({ doubted }) => doubted).map(({ id }) => id))];
  return ids.length === 0 ? '' : ` but ${ids.join(', ')}, to be looked at again,`;
}

/** A ladder has at least so many steps; a few odd openings say nothing about limits. */
const LADDER_STEPS = 3;

/** The narrowest that survives of those wider than all that failed; of a ladder of which nothing failed, the narrowest that was tried. */
function smallestOf(all: readonly Piece[], stepMm: number): { readonly best?: Piece; readonly least?: Piece } {
  const failed = all.filter(({ survives }) => !survives).map(({ filmMm }) => filmMm);
  const above = Math.max(...(failed.length > 0 ? [...failed, stepMm] : [0]));
  const [narrowest] = all
    .filter(({ survives, filmMm }) => survives && filmMm > above)
    .sort((a, b) => a.filmMm - b.filmMm);
  if (failed.length > 0) return { best: narrowest };
  const steps = new Set(all.flatMap(({ filmMm }) => (filmMm > 0 ? rounded(filmMm) : [])));
  return steps.size < LADDER_STEPS ? {} : { least: narrowest };
}

/** Every opening or web that was looked at, and of coupons of which something failed also those that were not marked. */
function pieces(
  kind: 'opening' | 'web',
  all: Observations,
  sessions: readonly ReadingSession[],
  parameters: readonly number[],
  flagged: Flagged,
) {
  const keyOf = (one: Pick<EyeObservation, 'session' | 'feature'>): string => `${one.session} ${one.feature.id}`;
  const isFlagged = (eye: EyeObservation): boolean =>
    flagged.some(({ session, index }) => session === eye.session && index === eye.index);
  const doubted = new Set(all.eye.filter(isFlagged).map(keyOf));
  const failed = new Set(all.eye.filter((eye) => eye.kind === kind).map(keyOf));
  const read = new Set(all.lengths.map(keyOf));
  return sessions.flatMap(({ features }, session) => {
    const anyFailed = features.map((feature) => keyOf({ session, feature })).some((key) => failed.has(key) && !doubted.has(key)); // biome-ignore format: one thought
    return features.flatMap((feature) => {
      if (feature.kind !== kind || isForJaws(feature)) return [];
      const key = keyOf({ session, feature });
      if (!failed.has(key) && !read.has(key) && !anyFailed) return [];
      const filmMm = predictLength({ kind, ...vectorOf(feature) }, parameters);
      // Doubted: said to have failed, against what the other readings say.
      return [{ id: feature.id, filmMm, survives: !failed.has(key), doubted: doubted.has(key) }];
    });
  });
}

type Axis = 'x' | 'y';

export type EyeReadings = ReturnType<typeof eyeReadings>;

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
export function eyeReadings(all: Observations, sessions: readonly ReadingSession[], scale: number) {
  const lengths: Observation[] = [];
  // Between what the kerf lies for certain.
  const brackets: { readonly axis: Axis; readonly lowMm: number; readonly highMm: number }[] = [];
  const warnings: Warning[] = [];
  for (const axis of ['x', 'y'] as const) {
    const read = all.lengths.some(
      (length) => (length.kind === 'opening' || length.kind === 'web') && axisAlong(length) === axis,
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

/** The widest web that burnt away, and the narrowest wider one that stands. */
function ladderOf(axis: Axis, all: Observations, sessions: readonly ReadingSession[]) {
  const gone = all.eye
    .filter((eye) => eye.kind === 'web' && axisAlong(eye) === axis)
    .sort((a, b) => Math.hypot(b.dx, b.dy) - Math.hypot(a.dx, a.dy));
  if (gone.length === 0) return undefined;
  const stand = sessions
    .flatMap(({ features }, session) => {
      const own = gone.flatMap((eye) => (eye.session === session ? eye.feature.id : []));
      return own.length === 0 ? [] : features.filter(({ id }) => !own.includes(id));
    })
    .flatMap((feature) => (feature.kind === 'web' && axisAlong(vectorOf(feature)) === axis ? [feature] : []))
    .sort((a, b) => a.nominalMm - b.nominalMm);
  // What burnt away on one film and stands on another, or is narrower than what burnt away, is near the kerf: of no side.
  const sure = gone.find(({ nominalMm }) => nominalMm < (stand[0]?.nominalMm ?? Number.POSITIVE_INFINITY)) ?? gone[0];
  const standing = stand.find(({ nominalMm }) => nominalMm > gone[0].nominalMm);
  return { gone: sure, standing };
}
