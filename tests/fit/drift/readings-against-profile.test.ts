import { beforeAll, describe, expect, it } from 'vitest';
import type { DimensionalFeature } from '../../../src/coupon/features.js';
import { driftChart } from '../../../src/fit/drift/drift-chart.js';
import { courseOf, profileHistory } from '../../../src/fit/drift/profile-history.js';
import { readingsAgainstProfile, withDoubts } from '../../../src/fit/drift/readings-against-profile.js';
import { openDoubts, refusedDays } from '../../../src/fit/drift/session-days.js';
import { kept } from '../../../src/kept.js';
import type { Profile, ReadingSession } from '../../../src/machine/types.js';
import { cases } from '../../cases.js';
import { seeded } from '../../virtual-laser/random.js';
import { benchFeatures, readFilm } from '../calibration/virtual-bench.js';
import {
  calibration,
  liveThrough,
  MACHINE,
  profileOf,
  sessionsOf,
  withoutRefit,
  witnessFeatures,
  witnessOn,
  type Year,
} from './year.js';

let witness: DimensionalFeature[] = [];

beforeAll(async () => {
  witness = await witnessFeatures();
});

const year = (of: Year): ReadingSession[] => sessionsOf(witness, of);

const asTheDaysBefore = (sessions: ReadingSession[]) =>
  readingsAgainstProfile(profileOf(sessions.slice(0, -1)), sessions.slice(-1));

const isRefused = ({ changed }: { readonly changed: boolean }): boolean => changed;

/** The first day that was refused; 0: none. */
const refusedOn = (of: Year, isJudged?: (day: number) => boolean): number =>
  liveThrough(year(of), withoutRefit, isRefused, isJudged).held.find(isRefused)?.day ?? 0;

describe('a witness piece read week after week, every reading added', () => {
  it('is never refused while the machine only scatters, and each time says what it could have seen', () => {
    const isJudged = (day: number): boolean => day < 6 || (day > 7 && day < 11) || day % 5 === 0;
    const { held } = liveThrough(year({ days: 20, seed: 1 }), withoutRefit, undefined, isJudged);
    expect(held).toHaveLength(10);
    expect(held.filter(({ changed }) => changed)).toEqual([]);
    for (const { sentences, leastSeen } of held) {
      expect(sentences[0]).toBe('No change was seen: the new readings agree with the profile.');
      expect(sentences[1]).toMatch(/smallest change that they would have shown .*kerf across X \d+\.\d µm/);
      // Axes that lean otherwise move no reading of a witness piece.
      expect(sentences[1]).toMatch(
        / They say nothing of a change of (scale along [XY], )*shear: for that, cut and read /,
      );
      const kerf = leastSeen.find(({ parameter }) => parameter === 'kerfXMm')!.change;
      expect(kerf).toBeGreaterThan(0.01);
      expect(kerf).toBeLessThan(0.03);
    }
  });

  it.each([3, 12])('shows a step of 15 µm in week %i within two weeks', (at) => {
    const growth = (day: number): number => (day >= at ? 0.015 : 0);
    const isJudged = (day: number): boolean => day < 3 || day === 7 || day >= at - 1;
    const first = [1, 2, 3].map((seed) => refusedOn({ days: at + 3, seed, growth }, isJudged));
    expect(Math.min(...first)).toBeGreaterThanOrEqual(at);
    expect(Math.max(...first)).toBeLessThanOrEqual(at + 3);
    expect(first.filter((day) => day <= at + 1).length).toBeGreaterThanOrEqual(2);
  });

  it('shows a step of 15 µm in its very first week, or calls it doubtful, four times in five', () => {
    const held = Array.from({ length: cases(10) }, (_, seed) =>
      asTheDaysBefore(year({ days: 1, seed, growth: () => 0.015 })),
    );
    const seen = held.filter(({ changed, doubtful }) => changed || doubtful.length > 0);
    expect(seen.length / held.length).toBeGreaterThanOrEqual(0.8);
  });

  it.each([-0.012, 0.012])(
    'takes the zero of its gauge (%d mm) for no change of the scales, and no kerf for it',
    (zeroMm) => {
      const years = Array.from({ length: cases(5) }, (_, seed) => year({ days: 3, seed, zeroMm }));
      expect(years.flatMap((days) => liveThrough(days, withoutRefit).held.filter(isRefused))).toEqual([]);
      const steps = years.map((_, seed) => refusedOn({ days: 2, seed, zeroMm, growth: () => 0.02 }));
      expect(steps.filter((day) => day > 0).length / steps.length).toBeGreaterThanOrEqual(0.8);
    },
  );

  it('has not moved where day after day reads alike, also by a profile that hardly knows the scale', () => {
    const [first, ...days] = year({ days: 10, seed: 1 });
    // Known by a few widths: spans lie far from what the profile says, and are no wrong readings for that.
    const few = first.features.filter(({ kind }) => kind !== 'span').map(({ id }) => id).slice(0, 32); // biome-ignore format: one thought
    const widths = { ...first, readings: first.readings.filter(({ feature }) => few.includes(feature)) };
    const known = profileOf([widths]);
    const { scaleX } = known.fit;
    const fit = { ...known.fit, scaleX: { ...scaleX, value: MACHINE[0] + 2.5 * scaleX.stdUncertainty } };
    const alike = days.map((day) => ({ ...day, readings: days[0].readings }));
    const profile = { ...known, fit, sessions: [widths, ...alike.slice(0, -1)] };
    for (const { shift } of readingsAgainstProfile(profile, alike.slice(-1)).shifts) expect(shift).toBeCloseTo(0, 9);
  });

  it('calls a shift doubtful that is too small to be sure and too large for chance', () => {
    // Of the first eight years those in which it is.
    const held = [2, 7].map((seed) =>
      asTheDaysBefore(year({ days: 4, seed, growth: (day) => (day === 4 ? 0.013 : 0) })),
    );
    const doubtful = held.filter((one) => one.doubtful.length > 0);
    expect(doubtful.length).toBeGreaterThanOrEqual(2);
    for (const { changed, sentences } of doubtful) {
      expect(changed).toBe(false);
      expect(sentences.join(' ')).toMatch(
        /^Doubtful: kerf across [XY]\. .*From ± [\d.]+ µm on a change is sure; chance alone makes this much in 1 of \d+ additions of readings\./,
      );
      expect(sentences.join(' ')).not.toContain('No change was seen');
    }
  });

  it('names a slow drift of 15 µm in a year before the year is over', () => {
    const { held } = liveThrough(
      year({ days: 52, seed: 5, growth: (day) => (0.015 * day) / 52 }),
      withoutRefit,
      isRefused,
      (day) => day === 13 || day % 4 === 2,
    );
    const first = held.find(isRefused)!;
    expect(first.day).toBeGreaterThan(13);
    expect(first.sentences.join(' ')).toMatch(/Kerf across X: over \d+ days it has drifted by \+[\d.]+ µm, outside/);
    expect(first.sentences.join(' ')).toContain('the machine has drifted slowly');
  });

  it('never forgets a refused day: nothing is pooled after it until somebody settles it', () => {
    const { held, profile } = liveThrough(
      year({ days: 9, seed: 3, growth: (day) => (day === 6 ? 0.03 : 0) }),
      withoutRefit,
    );
    expect(held.slice(0, 5).some(({ changed }) => changed)).toBe(false);
    expect(held.slice(5).every(({ changed }) => changed)).toBe(true);
    expect(held[8].sentences.join(' ')).toMatch(
      /Refused before, and not settled since: 2031-\d\d-\d\d, .* show no change, but do not undo/,
    );
    // Whatever order they were added in.
    const days = refusedDays([...profile.sessions].reverse());
    expect([days.length, days]).toEqual([4, [...days].sort()]);
  });
});

describe.each([11, 25])('a witness piece read on %i days of a year', (days) => {
  it('does not belong to the profile when the kerf has grown by 25 µm: says which, by how much, against what', () => {
    const held = asTheDaysBefore(year({ days, seed: 4, growth: (day) => (day === days ? 0.025 : 0) }));
    expect(held.changed).toBe(true);
    expect(held.sentences[0]).toBe('Changed since the profile was made: kerf across X.');
    const said = /Kerf across X: the new readings are off by \+([\d.]+) µm from the mean of \d+ earlier days, outside the limits of ± ([\d.]+) µm/.exec(held.sentences.join('\n'));
    expect(Math.abs(Number(said?.[1]) - 25)).toBeLessThan(9);
    expect(Number(said?.[2])).toBeLessThan(20);
  }); // biome-ignore format: one pattern
});

describe('new readings too few to be fitted alone', () => {
  const seeds = [11, 12, 13];
  const profiles = new Map<number, Profile>();
  const two = (kerf: number, seed: number) => {
    const ids = witness.filter(({ kind, from, to }) => kind === 'opening' && from[1] === to[1]).map(({ id }) => id);
    return {
      profile: kept(profiles, seed, () => profileOf([calibration(seeded(seed))])),
      fresh: witnessOn(witness, '2031-05-01', kerf, seeded(100 + seed), ids.slice(0, 2)),
    };
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

it('names no size that no stencil could have: what a short witness can’t show is said', () => {
  const random = seeded(15);
  const profile = profileOf([calibration(random)]);
  const ids = witness.filter(({ kind, from, to }) => kind === 'opening' && from[1] === to[1]).map(({ id }) => id);
  for (const count of [2, 4, 8]) {
    const fresh = witnessOn(witness, '2031-05-01', MACHINE[3], random, ids.slice(0, count));
    const said = readingsAgainstProfile(profile, [fresh]).sentences.join(' ');
    for (const [, um] of said.matchAll(/(\d+) µm on 100 mm/g)) expect(Number(um)).toBeLessThanOrEqual(1000);
  }
});

it('takes days that differ by more than the readings’ noise as they are', () => {
  let alarms = 0;
  for (let seed = 0; seed < 4; seed += 1) {
    const sessions = year({ days: 16, seed, betweenMm: 0.005 });
    const profile = withoutRefit(sessions.slice(0, -1), profileOf(sessions.slice(0, 1)));
    if (readingsAgainstProfile(profile, sessions.slice(-1)).changed) alarms += 1;
  }
  expect(alarms).toBeLessThanOrEqual(1);
});

describe('another gauge is no other machine', () => {
  const features = benchFeatures();
  // 15 µm on 100 mm too long: within what a caliper may be off by.
  const day = (name: string, fast: number, limitMm?: number): ReadingSession => ({
    coupon: 'bench',
    date: `2031-02-0${name.at(-1)}`,
    features,
    readings: readFilm(features, MACHINE, seeded(41 + Number(name.at(-1))), () => ({ noiseMm: 0.005, resolutionMm: 0.01, name, fast })), // biome-ignore format: one list
    ...(limitMm === undefined ? {} : { gaugeLimitsMm: { [name]: limitMm } }),
  });

  it.each([
    ['a caliper, with the limit that calipers have', day('caliper 2', 0.00015)],
    ['one whose limit is stated', day('microscope 2', 0.00015, 0.03)],
  ])('%s', (_what, fresh) => {
    expect(readingsAgainstProfile(profileOf([day('caliper 1', 0)]), [fresh]).changed).toBe(false);
  });

  it('a scanner, whose scale is told anew with each scan, to within its limit', () => {
    const [known, next] = [0, 15e-5].map((fast) => day('scanner spans 1', fast, 0.03));
    const held = readingsAgainstProfile(profileOf([known]), [{ ...next, date: '2031-02-03' }]);
    expect([held.changed, held.sentences.join(' ')]).toEqual([false, expect.not.stringContaining('another gauge')]);
  });

  it('one of which nothing is said is named beside the change that it may be', () => {
    const { changed, sentences } = readingsAgainstProfile(profileOf([day('caliper 1', 0)]), [
      day('microscope 2', 15e-5),
    ]);
    expect(changed).toBe(true);
    expect(sentences.at(-1)).toMatch(/another gauge \(microscope 2\) than those before/);
    const same = readingsAgainstProfile(profileOf([day('microscope 1', 0)]), [{ ...day('microscope 1', 15e-5), date: '2031-02-03' }]); // biome-ignore format: one call
    expect(same.changed).toBe(true);
    expect(same.sentences.join()).not.toContain('another gauge');
  });
});

it.each([-0.012, 0.012])(
  'a chart of the days shows no change by the zero of the witness’s gauge (%d mm), and the machine as it is',
  (zeroMm) => {
    for (const seed of [1, 2]) {
      const history = profileHistory([profileOf(year({ days: 8, seed, zeroMm }))]);
      for (const [k, parameter] of (['scaleX', 'scaleY'] as const).entries()) {
        const course = courseOf(history, parameter);
        expect(course).toHaveLength(9);
        expect(driftChart(course).change?.beyond).toBe(false);
        const mean = course.reduce((sum, { value }) => sum + value, 0) / course.length;
        expect(Math.abs(mean - MACHINE[k])).toBeLessThan(0.0005);
      }
    }
  },
);

describe('a day that is doubtful', () => {
  const doubt = { kerfXMm: { by: 0.015, stdUncertainty: 0.003 } };
  const added = (older: readonly ReadingSession[], fresh: readonly ReadingSession[]): ReadingSession[] =>
    withDoubts(older, fresh, readingsAgainstProfile(profileOf(older), fresh));
  const quiet = (coupon: string, ids?: readonly string[]): ReadingSession => ({
    ...witnessOn(witness, '2031-06-01', MACHINE[3], seeded(71), ids),
    coupon,
  });

  it('carries what is off, on each piece of a sheet, from the first day on', () => {
    let found = 0;
    // Of eight years those in which it is doubtful, and one in which it is not.
    for (const [days, seeds] of [
      [1, [0, 2, 4, 7]],
      [2, [0, 1, 2, 6]],
    ] as const) {
      for (const seed of seeds) {
        const sessions = year({ days, seed, growth: (day) => (day === days ? 0.012 : 0) });
        const fresh = sessions.slice(-1);
        const against = readingsAgainstProfile(profileOf(sessions.slice(0, -1)), fresh);
        const doubts = openDoubts(withDoubts(sessions.slice(0, -1), fresh, against));
        expect(doubts?.names ?? []).toEqual(against.doubtful);
        if (!doubts) continue;
        found += 1;
        expect(doubts.days).toEqual([fresh[0].date]);
        for (const name of doubts.names) expect(doubts.of[name]?.by).toBeGreaterThan(0.008);
        const sheet = [...fresh, { ...fresh[0], coupon: 'witness-2' }];
        const marked = withDoubts(sessions.slice(0, -1), sheet, against).slice(-2);
        expect(marked.map(({ doubtful }) => Object.keys(doubtful ?? {}))).toEqual([doubts.names, doubts.names]);
      }
    }
    expect(found).toBeGreaterThan(5);
  });

  it('is settled by readings that would have shown it, of the same piece or another, and by no others', () => {
    const sessions = year({ days: 3, seed: 1 });
    const older = sessions.map((day, i) => (i === 3 ? { ...day, doubtful: doubt } : day));
    expect(openDoubts(added(older, [quiet('witness')]))).toBeUndefined();
    expect(openDoubts(added(older, [quiet('another')]))).toBeUndefined();
    const spans = witness.filter(({ kind }) => kind === 'span').map(({ id }) => id);
    const few = witness.filter(({ kind, from, to }) => kind === 'opening' && from[1] === to[1]).map(({ id }) => id);
    for (const ids of [spans, few.slice(0, 1)])
      expect(openDoubts(added(older, [quiet('another', ids)]))?.of).toEqual(doubt);
    // Of two numbers the one that is told.
    const both = older.map((day) =>
      day.doubtful ? { ...day, doubtful: { ...doubt, shear: { by: 1e-5, stdUncertainty: 1e-6 } } } : day,
    );
    expect(openDoubts(added(both, [quiet('witness', few)]))?.names).toEqual(['shear']);
  });

  it('becomes a change, or a day like others, with the next piece that is read', () => {
    const ends = { changed: 0, settled: 0, open: 0 };
    // Of twelve years those in which it is doubtful.
    for (const seed of [2, 3, 10]) {
      const [same, other] = [0, 0.013].map((grown) =>
        year({ days: 4, seed, growth: (day) => (day >= 3 ? (day === 3 ? 0.013 : grown) : 0) }),
      );
      expect(same.slice(0, 4)).toEqual(other.slice(0, 4));
      const older = added(same.slice(0, 3), same.slice(3, 4));
      if (!openDoubts(older)) continue;
      const profile = profileOf(older);
      for (const [grown, sessions] of [
        [0, same],
        [0.013, other],
      ] as const) {
        const against = readingsAgainstProfile(profile, sessions.slice(4));
        const open = openDoubts(withDoubts(older, sessions.slice(4), against));
        const end = against.changed ? 'changed' : open ? 'open' : 'settled';
        ends[end] += 1;
        if (end === 'settled') expect(grown).toBe(0);
      }
    }
    expect(ends.changed).toBeGreaterThan(2);
    expect(ends.settled).toBeGreaterThan(1);
  });
});
