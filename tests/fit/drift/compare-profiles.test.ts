import { describe, expect, it } from 'vitest';
import { compareProfiles } from '../../../src/fit/drift/compare-profiles.js';
import type { Measured, Profile, ReadingSession } from '../../../src/machine/types.js';
import { gaussian, seeded } from '../../virtual-laser/random.js';

const session = (value: number): ReadingSession => ({
  coupon: 'ladder',
  features: [],
  readings: [{ feature: 'A1', readingMm: value }],
});

function profile(
  values: number[],
  us: number[],
  dof: number,
  sessions: ReadingSession[],
  assumed: string[] = [],
): Profile {
  const names = ['scaleX', 'scaleY', 'shear', 'kerfXMm', 'kerfYMm'];
  const measured = Object.fromEntries(
    names.map((name, i): [string, Measured] => [
      name,
      assumed.includes(name)
        ? { value: values[i], stdUncertainty: 0, assumed: true }
        : { value: values[i], stdUncertainty: us[i] },
    ]),
  );
  return {
    format: 'apertrue-profile',
    version: 1,
    name: 'test',
    fit: {
      ...measured,
      model: 'full',
      covariance: [],
      residualSdMm: 0.005,
      dof,
      warnings: [],
    } as unknown as Profile['fit'],
    sessions,
  };
}

const VALUES = [1.001, 0.999, 0.0005, 0.12, 0.1];
const US = [2e-5, 2e-5, 4e-5, 0.001, 0.001];

describe('comparing profiles', () => {
  it('says that nothing changed when differences are as large as their uncertainty', () => {
    const newer = VALUES.map((value, i) => value + US[i]);
    const result = compareProfiles(profile(VALUES, US, 80, [session(1)]), profile(newer, US, 80, [session(2)]));
    expect(result.anyBeyondNoise).toBe(false);
    expect(result.sentences[0]).toContain('Nothing changed');
    expect(result.changes[0].stdUncertainty).toBeCloseTo(Math.SQRT2 * 2e-5, 12);
    expect(result.changes[0].dof).toBeCloseTo(160, 9);
  });

  it('names the kerf that grew, and only it', () => {
    const newer = [...VALUES];
    newer[3] += 0.012;
    const result = compareProfiles(profile(VALUES, US, 80, [session(1)]), profile(newer, US, 80, [session(2)]));
    expect(result.changes.filter((change) => change.beyondNoise).map((change) => change.parameter)).toEqual([
      'kerfXMm',
    ]);
    expect(result.sentences.join(' ')).toContain('Kerf across X went from 0.1200 to 0.1320 mm (+12.0 µm ± 1.4 µm)');
  });

  it('knows that a newer profile which holds the older readings can’t differ by the sum of both uncertainties', () => {
    const smaller = US.map((u) => u * 0.8);
    const result = compareProfiles(
      profile(VALUES, US, 80, [session(1)]),
      profile(VALUES, smaller, 120, [session(1), session(2)]),
    );
    expect(result.relation).toBe('added');
    expect(result.changes[3].stdUncertainty).toBeCloseTo(0.001 * Math.sqrt(1 - 0.64), 12);
  });

  it('never says that the older one holds beside a day that the newer one refused', () => {
    const values = [1, 1, 0, 0.1, 0.1];
    const us = [1e-5, 1e-5, 1e-5, 0.002, 0.002];
    const kept = session(0.2);
    const older = profile(values, us, 30, [kept]);
    const newer = profile(values, us, 30, [kept, { ...session(0.25), date: '2031-03-02', refused: 'kerf across X' }]);
    const { sentences } = compareProfiles(older, newer);
    expect(sentences.join(' ')).not.toContain('still holds');
    expect(sentences).toContain('Refused, and so in none of these numbers: 2031-03-02.');
    expect(compareProfiles(older, older).sentences[0]).toContain('still holds');
  });

  it('does not compare what one profile only assumed', () => {
    const result = compareProfiles(
      profile(VALUES, US, 80, [session(1)], ['shear']),
      profile(VALUES, US, 80, [session(2)]),
    );
    expect(result.changes[2].beyondNoise).toBe(false);
    expect(result.changes[2].say).toContain("can't be compared");
  });

  it('gives a false alarm in about one in twenty pairs that do not differ', () => {
    const random = seeded(11);
    const noisy = (): number[] => VALUES.map((value, i) => value + US[i] * gaussian(random));
    let alarms = 0;
    for (let run = 0; run < 2000; run++) {
      const pair = [noisy(), noisy()].map((values, i) => profile(values, US, 1e6, [session(run + i / 2)]));
      if (compareProfiles(pair[0], pair[1]).anyBeyondNoise) alarms++;
    }
    expect(alarms / 2000).toBeGreaterThan(0.03);
    expect(alarms / 2000).toBeLessThan(0.07);
  });
});
