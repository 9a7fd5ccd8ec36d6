import type { DimensionalFeature } from '../../../src/coupon/features.js';
import { generateCoupon } from '../../../src/coupon/generate.js';
import { fitSessions } from '../../../src/fit/calibration/fit-sessions.js';
import { betweenDays } from '../../../src/fit/drift/between-days.js';
import { readingsAgainstProfile } from '../../../src/fit/drift/readings-against-profile.js';
import type { ReadingsAgainstProfile } from '../../../src/fit/drift/shifts.js';
import { kept } from '../../../src/kept.js';
import { makeProfile } from '../../../src/machine/profile-file.js';
import type { Profile, ReadingSession } from '../../../src/machine/types.js';
import { gaussian, seeded } from '../../virtual-laser/random.js';
import { benchFeatures, type Machine, readAll, trueLength } from '../calibration/virtual-bench.js';

export const MACHINE: Machine = [1.0061, 0.9948, 0.0027, 0.138, 0.112];

/** A year at the bench: one calibration, then a witness piece read on so many days to 0.01 mm with 5 µm of hand. */
export interface Year {
  readonly days: number;
  readonly seed: number;
  /** How much the kerf across X has grown on day i (from 1), mm. */
  readonly growth?: (day: number) => number;
  /** What days differ by, standard deviation, mm. */
  readonly betweenMm?: number;
  /** What the witness's gauge shows where there is nothing, mm. */
  readonly zeroMm?: number;
}

export async function witnessFeatures(): Promise<DimensionalFeature[]> {
  const coupon = await generateCoupon('witness', { widthMm: 12, heightMm: 12, pitchXMm: 0.0254 });
  return coupon.features.features.filter((feature): feature is DimensionalFeature => 'from' in feature);
}

export const dayOf = (i: number, days: number): string =>
  new Date(Date.UTC(2031, 0, 2) + Math.round((363 * i) / days) * 86_400_000).toISOString().slice(0, 10);

export function witnessOn(
  features: readonly DimensionalFeature[],
  date: string,
  kerfXMm: number,
  random: () => number,
  ids?: readonly string[],
  zeroMm = 0,
): ReadingSession {
  const machine: Machine = [MACHINE[0], MACHINE[1], MACHINE[2], kerfXMm, MACHINE[4]];
  const readings = features
    .filter(({ id }) => !ids || ids.includes(id))
    .map((feature) => {
      const value = trueLength(feature, machine) + zeroMm + 0.005 * gaussian(random);
      return { feature: feature.id, readingMm: Math.round(value * 100) / 100, resolutionMm: 0.01 };
    })
    .filter(({ readingMm }) => readingMm > 0.02);
  return { coupon: 'witness', date, features, readings };
}

export function calibration(random: () => number): ReadingSession {
  const features = benchFeatures();
  return { coupon: 'bench', date: '2031-01-01', features, readings: readAll(features, MACHINE, random) };
}

const firstProfiles = new WeakMap<ReadingSession, Profile>();

export function profileOf(sessions: readonly ReadingSession[]): Profile {
  const made = (): Profile => {
    const { fit } = betweenDays(fitSessions(sessions).fit, sessions);
    return makeProfile({ name: 'desk', fit, sessions });
  };
  return sessions.length === 1 ? kept(firstProfiles, sessions[0], made) : made();
}

const calibrations = new Map<number, ReadingSession>();

export function sessionsOf(
  features: readonly DimensionalFeature[],
  { days, seed, growth = () => 0, betweenMm = 0, zeroMm }: Year,
): ReadingSession[] {
  const random = seeded(seed);
  // Years of one seed begin alike: the same session, so that it is fitted once.
  const drawn = calibration(random);
  const first = kept(calibrations, seed, () => drawn);
  const later = Array.from({ length: days }, (_, i) => {
    const kerf = MACHINE[3] + growth(i + 1) + betweenMm * gaussian(random);
    return witnessOn(features, dayOf(i + 1, days), kerf, random, undefined, zeroMm);
  });
  return [first, ...later];
}

/**
 * Adds day after day as the command does: pooled when nothing changed, kept as refused when something did.
 *
 * @param isOver - nothing is wanted of the days after such a one
 * @param isJudged - the others are pooled unseen
 */
export function liveThrough(
  sessions: readonly ReadingSession[],
  pooled: (sessions: readonly ReadingSession[], before: Profile) => Profile = profileOf,
  isOver: (against: ReadingsAgainstProfile) => boolean = () => false,
  isJudged: (day: number) => boolean = () => true,
) {
  let profile = profileOf(sessions.slice(0, 1));
  const held: (ReadingsAgainstProfile & { readonly day: number })[] = [];
  for (const [day, session] of sessions.entries()) {
    if (day === 0) continue;
    const against = isJudged(day) ? readingsAgainstProfile(profile, [session]) : undefined;
    profile = against?.changed
      ? makeProfile({ ...profile, sessions: [...profile.sessions, { ...session, refused: against.sentences[0] }] })
      : pooled([...profile.sessions, session], profile);
    if (against) held.push({ ...against, day });
    if (against && isOver(against)) break;
  }
  return { profile, held };
}

/** For long runs: the readings are kept and judged by, the numbers stay those of the calibration. */
export const withoutRefit = (sessions: readonly ReadingSession[], before: Profile): Profile => ({
  ...before,
  sessions,
});
