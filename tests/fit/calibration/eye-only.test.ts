import { describe, expect, it } from 'vitest';
import { fitCalibration, fitSessions } from '../../../src/fit/calibration/fit-sessions.js';
import { readingsAgainstProfile } from '../../../src/fit/drift/readings-against-profile.js';
import { makeProfile } from '../../../src/machine/profile-file.js';
import type { Reading } from '../../../src/readings/types.js';
import { seeded } from '../../virtual-laser/random.js';
import { benchFeatures, type Machine, readAll, trueLength } from './virtual-bench.js';

const machine: Machine = [1.002, 0.998, 0.003, 0.141, 0.118];
const spans = benchFeatures().filter(({ kind }) => kind === 'span');
/** Ladders of webs and openings in steps of 0.0254 mm. */
const ladder = (kind: 'web' | 'opening', axis: 'x' | 'y') =>
  Array.from({ length: 12 }, (_, i) => {
    const mm = 0.0254 * (i + 1);
    const to: [number, number] = axis === 'x' ? [10 + mm, 10] : [10, 10 + mm];
    return { id: `${kind}-${axis}${i + 1}`, kind, from: [10, 10] as [number, number], to, nominalMm: mm, say: 'look' };
  });
const webs = [...ladder('web', 'x'), ...ladder('web', 'y')];
const openings = [...ladder('opening', 'x'), ...ladder('opening', 'y')];
const gone: Reading[] = webs
  .filter((web) => trueLength(web, machine) <= 0)
  .map(({ id }) => ({ feature: id, outcome: 'gone' }));

describe('readings by eye alone', () => {
  it('tell the kerf as an interval: at least the widest web that is gone, at most the next one', () => {
    const { fit, warnings } = fitCalibration([...readAll(spans, machine, seeded(1)), ...gone], [...spans, ...webs]);
    // Webs of 0.127 mm are gone across X, those of 0.1524 mm stand.
    expect(fit.kerfXMm.value).toBeCloseTo((0.127 + 0.1524) / 2, 3);
    expect(fit.kerfXMm.stdUncertainty).toBeCloseTo(0.0254 / Math.sqrt(12), 3);
    expect(fit.kerfXMm.interval95?.[0]).toBeLessThan(0.141);
    expect(fit.kerfXMm.interval95?.[1]).toBeGreaterThan(0.141);
    expect(fit.kerfYMm.value).toBeCloseTo((0.1016 + 0.127) / 2, 3);
    expect(warnings.filter(({ code }) => code === 'KERF_BY_EYE')).toHaveLength(2);
    expect(warnings[0].message).toMatch(/web-x5 burnt away.*web-x6 stands/);
  });

  it('of two films that differ by a web take what holds for both', () => {
    const films = [gone, [...gone, { feature: 'web-x6', outcome: 'gone' as const }]];
    const sessions = films.map((seen, day) => ({
      coupon: 'bench',
      date: `2031-03-0${day + 1}`,
      features: [...spans, ...webs],
      readings: [...readAll(spans, machine, seeded(day)), ...seen],
    }));
    const { warnings, fit } = fitSessions(sessions);
    expect(warnings[0].message).toMatch(/web-x5 burnt away.*web-x7 stands/);
    expect(fit.kerfXMm.interval95?.[0]).toBeLessThan(0.1524);
    // On its own day the second film is no surer sign of a change: the kerf may lie at that web.
    const profile = makeProfile({ name: 'one', fit: fitSessions(sessions.slice(0, 1)).fit, sessions: sessions.slice(0, 1) }); // biome-ignore format: one call
    const near = readingsAgainstProfile(profile, [{ ...sessions[1], readings: films[1] }]);
    expect(near.changed).toBe(false);
    expect(near.sentences.join(' ')).toMatch(/across X is between 0\.15\d and .* now.* near the bound, or has changed/);
    const far = ['web-x6', 'web-x7', 'web-x8'].map((feature) => ({ feature, outcome: 'gone' as const }));
    const grown = readingsAgainstProfile(profile, [{ ...sessions[1], readings: [...gone, ...far] }]);
    expect(grown.changed).toBe(true);
    expect(grown.sentences[0]).toMatch(/^By eye the kerf across X is between 0\.20\d and 0\.2\d\d mm now/);
  });

  it('tell a limit of webs that holds for any kerf between the two', () => {
    const read = [...readAll(spans, machine, seeded(1)), ...gone];
    const { limits } = fitCalibration(read, [...spans, ...webs]);
    const stands = webs.filter((web) => trueLength(web, machine) > 0).map((web) => trueLength(web, machine));
    expect(limits?.minWebMm).toBeGreaterThanOrEqual(Math.min(...stands));
  });

  it('say only "at least" when every web is gone', () => {
    const all: Reading[] = webs
      .filter(({ id }) => id.startsWith('web-x'))
      .map(({ id }) => ({ feature: id, outcome: 'gone' }));
    const { fit, warnings } = fitCalibration([...readAll(spans, machine, seeded(1)), ...all], [...spans, ...webs]);
    expect(warnings.map(({ code }) => code)).toContain('KERF_AT_LEAST');
    expect(fit.kerfXMm.assumed).toBe(true);
  });

  it('add nothing where widths were read, but set the limits with their evidence', () => {
    const read = [...readAll([...spans, ...openings.slice(2)], machine, seeded(2))];
    const closed: Reading[] = openings.slice(0, 2).map(({ id }) => ({ feature: id, outcome: 'closed' }));
    const without = fitCalibration(read, [...spans, ...openings, ...webs]);
    const { fit, limits } = fitCalibration([...read, ...closed, ...gone], [...spans, ...openings, ...webs]);
    expect(fit.kerfXMm.value).toBe(without.fit.kerfXMm.value);
    // opening-x2 is closed, 0.192 mm on the film; the next wider one that is open is opening-y3.
    expect(limits?.minOpeningMm).toBeCloseTo(0.998 * 0.0762 + 0.118, 2);
    expect(limits?.minOpeningMm).toBeGreaterThan(1.002 * 0.0508 + 0.141);
    expect(limits?.minWebMm).toBeGreaterThan(0);
    expect(limits?.minWebMm).toBeLessThan(0.0254);
    expect(limits?.evidence?.join(' ')).toMatch(/opening-x1, opening-x2 did not come through.*web-x1/);
  });

  it('are no limit where what stands is narrower than a step of the gauge', () => {
    const wide: Machine = [1.002, 0.998, 0.003, 0.152, 0.118];
    const burnt = webs.filter((web) => trueLength(web, wide) <= 0).map(({ id }): Reading => ({ feature: id, outcome: 'gone' })); // biome-ignore format: one list
    const read = readAll([...spans, ...openings], wide, seeded(2));
    // web-x6 is told 0.0007 mm wide, web-y5 0.009: nobody can tell these from none.
    const { limits } = fitCalibration([...read, ...burnt], [...spans, ...openings, ...webs]);
    expect(limits?.minWebMm).toBeCloseTo(1.002 * 0.1778 - 0.152, 2);
  });

  it('set no limit where nothing failed, but say how far down that was tried', () => {
    const read = readAll([...spans, ...openings], machine, seeded(2));
    const { limits } = fitCalibration(read, [...spans, ...openings]);
    expect(limits?.minOpeningMm).toBeUndefined();
    expect(limits?.smallestOpenedMm).toBeCloseTo(0.998 * 0.0254 + 0.118, 2);
    expect(limits?.evidence?.join()).toMatch(/all came through, down to opening-y1 .*; the limit lies below it/);
    expect(fitCalibration(readAll(spans, machine, seeded(2)), spans).limits).toBeUndefined();
  });

  it('are no contradiction where the gauge has steps as wide as what it shows as nothing', () => {
    const features = [...spans, ...openings, ...webs];
    // 0.06 mm and 0.14 mm of film: the first may well show as nothing on a plastic caliper, neither on a fine one.
    const seen = (resolutionMm: number, id: string): string[] => {
      const read = readAll(features, machine, seeded(3), () => ({ noiseMm: 0.005, resolutionMm }));
      const others = read.filter(({ feature, readingMm }) => feature !== id && readingMm > 0);
      const { flagged } = fitCalibration([...others, { feature: id, outcome: 'gone' }], features);
      return flagged.map(({ feature }) => feature);
    };
    expect(seen(0.1, 'web-x8')).toEqual([]);
    expect(seen(0.01, 'web-x8')).toEqual(['web-x8']);
    expect(seen(0.1, 'web-x11')).toEqual(['web-x11']);
  });

  it('take a reading of zero as missing', () => {
    const features = [...spans, ...openings, ...webs];
    const read = readAll(features, machine, seeded(3)).map((r) => ({ ...r, readingMm: Math.max(0, r.readingMm) }));
    const { fit, flagged } = fitCalibration(read, features);
    expect(flagged).toEqual([]);
    expect(Math.abs(fit.kerfXMm.value - 0.141)).toBeLessThan(0.004);
  });
});
