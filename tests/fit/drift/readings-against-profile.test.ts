import { beforeAll, describe, expect, it } from 'vitest';
import type { DimensionalFeature } from '../../../src/coupon/features.js';
import { generateCoupon } from '../../../src/coupon/generate.js';
import { fitSessions } from '../../../src/fit/calibration/index.js';
import { readingsAgainstProfile } from '../../../src/fit/drift/readings-against-profile.js';
import { makeProfile } from '../../../src/machine/make-profile.js';
import type { Profile, ReadingSession } from '../../../src/machine/types.js';
import { gaussian, seeded } from '../../virtual-laser/random.js';
import { benchFeatures, type Machine, readAll, trueLength } from '../calibration/virtual-bench.js';

const MACHINE: Machine = [1.0061, 0.9948, 0.0027, 0.138, 0.112];
let witness: DimensionalFeature[] = [];

beforeAll(async () => {
  const coupon = await generateCoupon('witness', { widthMm: 12, heightMm: 12, pitchXMm: 0.0254 });
  witness = coupon.features.features.filter((feature): feature is DimensionalFeature => 'from' in feature);
});

const dayOf = (i: number, days: number): string =>
  new Date(Date.UTC(2031, 0, 2) + Math.round((363 * i) / days) * 86_400_000).toISOString().slice(0, 10);

function witnessOn(date: string, kerfXMm: number, random: () => number, ids?: readonly string[]): ReadingSession {
  const machine: Machine = [MACHINE[0], MACHINE[1], MACHINE[2], kerfXMm, MACHINE[4]];
  const readings = witness
    .filter(({ id }) => !ids || ids.includes(id))
    .map((feature) => {
      const value = trueLength(feature, machine) + 0.005 * gaussian(random);
      return { feature: feature.id, readingMm: Math.round(value * 100) / 100, resolutionMm: 0.01 };
    })
    .filter(({ readingMm }) => readingMm > 0.02);
  return { coupon: 'witness', date, features: witness, readings };
}

function calibration(random: () => number): ReadingSession {
  const features = benchFeatures();
  return { coupon: 'bench', date: '2031-01-01', features, readings: readAll(features, MACHINE, random) };
}

function profileOf(sessions: readonly ReadingSession[]): Profile {
  return makeProfile({ name: 'desk', fit: fitSessions(sessions).fit, sessions });
}

/** A year of so many days; the kerf on each. */
function year(days: number, seed: number, kerfOn: (i: number) => number): ReadingSession[] {
  const random = seeded(seed);
  return [
    calibration(random),
    ...Array.from({ length: days }, (_, i) => witnessOn(dayOf(i + 1, days), kerfOn(i), random)),
  ];
}

const asTheDaysBefore = (sessions: ReadingSession[]) =>
  readingsAgainstProfile(profileOf(sessions.slice(0, -1)), sessions.slice(-1));

describe.each([11, 25, 60])('a witness piece read on %i days of a year', (days) => {
  it('belongs to the profile when the machine only scatters', () => {
    for (const seed of [1, 2, 3]) {
      const held = asTheDaysBefore(year(days, seed, () => MACHINE[3]));
      expect(held.changed).toBe(false);
      expect(held.sentences[0]).toContain('those of the machine');
    }
  });

  it('does not when the kerf has grown by 25 µm: says which, by how much, against what limits', () => {
    const held = asTheDaysBefore(year(days, 4, (i) => MACHINE[3] + (i === days - 1 ? 0.025 : 0)));
    expect(held.changed).toBe(true);
    expect(held.sentences[0]).toBe('Changed since the profile was made: kerf across X.');
    const said = /Kerf across X: the new readings are off by \+([\d.]+) µm from the mean of \d+ earlier days, outside the limits of ± ([\d.]+) µm/.exec(held.sentences.join('\n'));
    expect(Math.abs(Number(said?.[1]) - 25)).toBeLessThan(9);
    expect(Number(said?.[2])).toBeLessThan(20);
  }); // biome-ignore format: one pattern

  it('shows a slow drift of 40 µm in the year before its end', () => {
    const sessions = year(days, 5, (i) => MACHINE[3] + (0.04 * i) / days);
    const step = Math.max(1, Math.floor(days / 12));
    let first = Number.POSITIVE_INFINITY;
    for (let day = 4; day <= days && first > day; day += step) {
      if (asTheDaysBefore(sessions.slice(0, day + 1)).changed) first = day;
    }
    expect(first).toBeLessThan(days);
  });
});

describe('new readings too few to be fitted alone', () => {
  const seeds = [11, 12, 13, 14, 15];
  const two = (kerf: number, seed: number) => {
    const random = seeded(seed);
    const ids = witness.filter(({ kind, from, to }) => kind === 'opening' && from[1] === to[1]).map(({ id }) => id);
    return { profile: profileOf([calibration(random)]), fresh: witnessOn('2031-05-01', kerf, random, ids.slice(0, 2)) };
  };

  it('are held against the profile’s prediction and agree when nothing changed', () => {
    for (const seed of seeds) {
      const { profile, fresh } = two(MACHINE[3], seed);
      expect(fresh.readings).toHaveLength(2);
      expect(readingsAgainstProfile(profile, [fresh]).changed).toBe(false);
    }
  });

  it('show a kerf that has grown by 40 µm', () => {
    for (const seed of seeds) {
      const { profile, fresh } = two(MACHINE[3] + 0.04, seed);
      const held = readingsAgainstProfile(profile, [fresh]);
      expect(held.changed).toBe(true);
      expect(held.sentences.join(' ')).toMatch(/Kerf across X: .* from what the profile says, outside the limits/);
    }
  });

  it('never are believed against a wrong reading that is known as such', () => {
    const { profile, fresh } = two(MACHINE[3], 11);
    const slipped = { ...fresh, readings: [{ ...fresh.readings[0], readingMm: 3.4 }, ...fresh.readings.slice(1)] };
    expect(readingsAgainstProfile(profile, [slipped]).changed).toBe(true);
    expect(readingsAgainstProfile(profile, [slipped], { ignore: (_, index) => index === 0 }).changed).toBe(false);
  });
});

it('gives a false alarm in well under one addition in a hundred', () => {
  let alarms = 0;
  for (let seed = 100; seed < 160; seed += 1) if (asTheDaysBefore(year(6, seed, () => MACHINE[3])).changed) alarms += 1;
  expect(alarms).toBeLessThanOrEqual(1);
});

it('takes days that differ by more than the readings’ noise as they are', () => {
  let alarms = 0;
  for (let seed = 0; seed < 20; seed += 1) {
    const random = seeded(1000 + seed);
    if (asTheDaysBefore(year(25, seed, () => MACHINE[3] + 0.005 * gaussian(random))).changed) alarms += 1;
  }
  expect(alarms).toBeLessThanOrEqual(1);
});
