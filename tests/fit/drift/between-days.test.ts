import { describe, expect, it } from 'vitest';
import { fitSessions } from '../../../src/fit/calibration/fit-sessions.js';
import { betweenDays } from '../../../src/fit/drift/between-days.js';
import { readingsAgainstProfile, withDoubts } from '../../../src/fit/drift/readings-against-profile.js';
import { openDoubts } from '../../../src/fit/drift/session-days.js';
import type { ReadingSession } from '../../../src/machine/types.js';
import { gaussian, seeded } from '../../virtual-laser/random.js';
import { benchFeatures, type Machine, readAll, readFilm } from '../calibration/virtual-bench.js';
import { dayOf, MACHINE, profileOf, sessionsOf, witnessFeatures } from './year.js';

const features = benchFeatures();

function days(count: number, betweenMm: number, seed: number): ReadingSession[] {
  const random = seeded(seed);
  return Array.from({ length: count }, (_, i) => {
    const kerf = MACHINE[3] + betweenMm * gaussian(random);
    const machine: Machine = [MACHINE[0], MACHINE[1], MACHINE[2], kerf, MACHINE[4]];
    return { coupon: 'bench', date: dayOf(i, count), features, readings: readAll(features, machine, random) };
  });
}

const pooled = (sessions: ReadingSession[]) => {
  const { fit } = fitSessions(sessions);
  return { fit, ...{ widened: betweenDays(fit, sessions) } };
};

describe('readings of several days together', () => {
  it('have the uncertainty of a day to come, not of a mean that no stencil is cut with', () => {
    let covered = 0;
    let narrow = 0;
    const random = seeded(99);
    for (let seed = 1; seed <= 8; seed += 1) {
      const { fit, widened } = pooled(days(5, 0.006, seed));
      const truth = MACHINE[3] + 0.006 * gaussian(random);
      const inside = ([low, high]: readonly [number, number]): number => Number(truth >= low && truth <= high);
      narrow += inside(fit.kerfXMm.interval95!);
      covered += inside(widened.fit.kerfXMm.interval95!);
    }
    expect(narrow).toBeLessThan(5);
    expect(covered).toBeGreaterThanOrEqual(6);
  });

  it('say which number differs by how much, and leave the others alone', () => {
    const { fit, widened } = pooled(days(8, 0.012, 3));
    expect(widened.sentences.join(' ')).toMatch(
      /Kerf across X differs from day to day by \d+\.\d µm \(standard deviation over 8 days/,
    );
    const kerf = widened.components.find(({ parameter }) => parameter === 'kerfXMm')!;
    expect(kerf.sd).toBeGreaterThan(0.006);
    expect(kerf.sd).toBeLessThan(0.024);
    expect(widened.fit.kerfYMm.stdUncertainty).toBeLessThan(3 * fit.kerfYMm.stdUncertainty);
    expect(widened.fit.kerfXMm.value).toBe(fit.kerfXMm.value);
  });

  it('are not said to differ where noise alone may look so', () => {
    const told = Array.from({ length: 10 }, (_, seed) => pooled(days(3, 0, 20 + seed)).widened.sentences).flat();
    expect(told.length).toBeGreaterThan(0);
    for (const sentence of told) expect(sentence).toMatch(/ may differ from day to day .*: the readings’ noise alone/);
  });

  it('of small witness pieces claim no difference that their noise makes, and still find a real one', async () => {
    const witness = await witnessFeatures();
    const found = (seed: number, betweenMm: number) => {
      const sessions = sessionsOf(witness, { days: 8, seed, betweenMm });
      const { fit } = fitSessions(sessions);
      return { fit, widened: betweenDays(fit, sessions) };
    };
    for (let seed = 1; seed <= 4; seed += 1) {
      const { fit, widened } = found(seed, 0);
      expect(widened.sentences.join(' ')).not.toMatch(/ differs |[Ss]cale|[Ss]hear/);
      // What the witness of 12 mm tells poorly keeps the uncertainty that the full coupon gives it.
      expect([widened.fit.scaleX, widened.fit.scaleY, widened.fit.shear]).toEqual([fit.scaleX, fit.scaleY, fit.shear]);
    }
    const real = [1, 2, 3].map((seed) => found(seed, 0.008).widened.sentences.join(' '));
    expect(real.filter((words) => /^Kerf across X differs from day to day/.test(words)).length).toBeGreaterThan(1);
  });

  it('are not said to differ in scale where each day’s scan told its own', () => {
    const name = 'scanner spans';
    const scans = (limitMm: number): ReadingSession[] =>
      [0, 3e-4, -3e-4, 1e-4].map((fast, i) => ({
        coupon: 'bench',
        date: dayOf(i, 4),
        features,
        readings: readFilm(features, MACHINE, seeded(60 + i), ({ kind }) => ({ noiseMm: 0.001, resolutionMm: 0.001, ...(kind === 'span' ? { fast, name } : {}) })), // biome-ignore format: one call
        gaugeLimitsMm: { [name]: limitMm },
      }));
    expect(pooled(scans(0.001)).widened.sentences.join(' ')).toMatch(/Scale along X differs from day to day/);
    expect(pooled(scans(0.07)).widened.sentences.join(' ')).not.toMatch(/[Ss]cale/);
  });

  it('are left as they are when there are fewer than three days', () => {
    const { fit, widened } = pooled(days(2, 0.02, 4));
    expect(widened.fit).toEqual(fit);
  });
});

describe('the variance between days', () => {
  it('is that of Paule and Mandel: days then scatter as much as they should', () => {
    // Days of equal variance: the estimate is the variance of the day values less the readings' own (their equation 5).
    const sessions = days(7, 0.01, 8);
    const { widened } = pooled(sessions);
    const alone = sessions.map((session) => fitSessions([session]).fit.kerfXMm);
    const mean = alone.reduce((sum, { value }) => sum + value, 0) / 7;
    const seen = alone.reduce((sum, { value }) => sum + (value - mean) ** 2, 0) / 6;
    const own = alone.reduce((sum, { stdUncertainty }) => sum + stdUncertainty ** 2, 0) / 7;
    const found = widened.components.find(({ parameter }) => parameter === 'kerfXMm')!.sd ** 2;
    expect(found / (seen - own)).toBeGreaterThan(0.9);
    expect(found / (seen - own)).toBeLessThan(1.1);
  });
});

describe('a doubtful day', () => {
  it.each([1, 3, 8])('widens both kerfs as far as it seemed off, and nothing else, on day %i', async (count) => {
    const [first, ...days] = sessionsOf(await witnessFeatures(), { days: count, seed: 3 });
    const before = [first, ...days.slice(0, -1)];
    const { fit } = fitSessions([first, ...days]);
    const known = betweenDays(fit, [first, ...days]).fit;
    for (const parameter of ['kerfXMm', 'kerfYMm'] as const) {
      const doubted = [
        ...before,
        { ...days[count - 1], doubtful: { [parameter]: { by: -0.012, stdUncertainty: 0.0025 } } },
      ];
      const { fit: wide, sentences } = betweenDays(fit, doubted);
      for (const name of ['kerfXMm', 'kerfYMm'] as const) {
        const [low, high] = wide[name].interval95!;
        expect(wide[name].value - low).toBeGreaterThan(0.0165);
        expect(high - wide[name].value).toBeLessThan(0.022);
      }
      for (const name of ['scaleX', 'scaleY', 'shear'] as const) expect(wide[name]).toEqual(known[name]);
      expect(sentences.join(' ')).toContain('the uncertainty of kerf across X, kerf across Y holds that they may have');
      expect(sentences.join(' ')).not.toMatch(/Kerf across [XY] \w*differs?/);
    }
  });

  it('of a scale widens the other one, too, and no kerf', async () => {
    const [first, day] = sessionsOf(await witnessFeatures(), { days: 1, seed: 3 });
    const { fit } = fitSessions([first, day]);
    const wide = betweenDays(fit, [
      first,
      { ...day, doubtful: { scaleX: { by: 0.0014, stdUncertainty: 0.0003 } } },
    ]).fit;
    for (const name of ['scaleX', 'scaleY'] as const) {
      const half = wide[name].interval95![1] - wide[name].value;
      expect([half > 0.0019, half < 0.0022]).toEqual([true, true]);
    }
    expect([wide.shear, wide.kerfXMm, wide.kerfYMm]).toEqual([fit.shear, fit.kerfXMm, fit.kerfYMm]);
    // What is refused, or settled, widens nothing.
    const refused = { ...day, doubtful: { scaleX: { by: 0.0014, stdUncertainty: 0.0003 } }, refused: 'Changed.' };
    expect(betweenDays(fit, [first, refused]).fit.scaleX).toEqual(fit.scaleX);
  });

  // Of the years 100 to 115 those in which the day is doubtful.
  it.each([
    [1, [102, 103, 106, 110]],
    [2, [103, 106, 109]],
    [5, [100, 101, 113]],
  ])(
    'leaves room for the kerf of before and for that of a machine that has changed, on day %i',
    async (count, seeds) => {
      const witness = await witnessFeatures();
      let [found, held] = [0, 0];
      for (const seed of seeds) {
        const sessions = sessionsOf(witness, { days: count, seed, growth: (day) => (day === count ? 0.0115 : 0) });
        const [older, fresh] = [sessions.slice(0, -1), sessions.slice(-1)];
        const marked = withDoubts(older, fresh, readingsAgainstProfile(profileOf(older), fresh));
        if (!openDoubts(marked)) continue;
        found += 1;
        const [low, high] = betweenDays(fitSessions(sessions).fit, marked).fit.kerfXMm.interval95!;
        if (low < MACHINE[3] && high > MACHINE[3] + 0.0115) held += 1;
      }
      expect(found).toBeGreaterThan(2);
      expect(held).toBeGreaterThanOrEqual(found - 1);
    },
  );
});
