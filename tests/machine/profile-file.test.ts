import { describe, expect, it } from 'vitest';
import { InputError } from '../../src/errors.js';
import { parseProfile, profileText } from '../../src/machine/profile-file.js';
import type { Profile } from '../../src/machine/types.js';
import { profileOf } from '../cli/bench.js';

const FEATURE = { id: 'A1', kind: 'span', from: [0, 0], to: [10, 0], nominalMm: 10, say: 'left to left' } as const;

const UU = { moves: 'x', shape: 'uu', mm: 0.05, stdUncertainty: 0.002 } as const;
const FIELD = {
  canvasMm: { widthMm: 100, heightMm: 100 },
  areaMm: [5, 5, 95, 95],
  terms: [UU],
  covariance: [[4e-6]],
  residualSdMm: 0.003,
  dof: 80,
  marks: 90,
};

async function filled(): Promise<Profile> {
  const plain = await parseProfile(profileOf(), 'laser.json');
  return {
    ...plain,
    sessions: [
      {
        coupon: 'scale-ruler',
        date: '2031-04-09',
        features: [FEATURE],
        readings: [{ feature: 'A1', readingMm: 10.04, resolutionMm: 0.01 }],
      },
      {
        coupon: 'witness',
        features: [FEATURE],
        readings: [
          { feature: 'A1', readingMm: 10.05 },
          { feature: 'A1', outcome: 'gone' },
        ],
      },
    ],
  };
}

describe('a profile file', () => {
  it('comes back as it was written, and is written the same again', async () => {
    const profile = await filled();
    const text = profileText(profile);
    const back = await parseProfile(text, 'laser.json');
    expect(back).toEqual(profile);
    expect(profileText(back)).toBe(text);
  });

  it('holds all rows under "readings", each with the number of its session', async () => {
    const file = JSON.parse(profileText(await filled()));
    expect(file.readings).toEqual([
      { session: 1, feature: 'A1', readingMm: 10.04, resolutionMm: 0.01 },
      { session: 2, feature: 'A1', readingMm: 10.05 },
      { session: 2, feature: 'A1', outcome: 'gone' },
    ]);
    expect(file.sessions.map((s: { coupon: string }) => s.coupon)).toEqual(['scale-ruler', 'witness']);
  });

  it('may be written by hand with bare numbers and nothing but the fit', async () => {
    const text =
      '{"format":"apertrue-profile","version":1,"name":"by hand","fit":{"scaleX":1,"scaleY":1,"shear":0,"kerfXMm":0.1,"kerfYMm":0.1}}';
    const profile = await parseProfile(text, 'hand.json');
    expect(profile.fit.kerfXMm).toMatchObject({ value: 0.1, assumed: true });
    expect(profile.sessions).toEqual([]);
  });

  it.each([
    [
      'a reading of a session that is not there',
      (t: string) => t.replace('"session": 2', '"session": 7'),
      /readings\.\d+\.session.*found 7/,
    ],
    ['a mistyped key', (t: string) => t.replace('"kerfXMm"', '"kerfXmm"'), /Did you mean "kerfXMm"/],
    ['a negative scale', (t: string) => t.replace('"value": 1.004', '"value": -1.004'), /fit\.scaleX/],
    ['another kind of file', () => '{"format":"apertrue-features","version":1}', /format/],
  ] as [string, (text: string) => string, RegExp][])(
    'is refused with file and key for %s',
    async (_name, spoil, words) => {
      const text = spoil(profileText(await filled()));
      const error = await parseProfile(text, 'laser.json').catch((e: unknown) => e);
      expect(error).toBeInstanceOf(InputError);
      expect((error as Error).message).toMatch(words);
      expect((error as Error).message).toContain('laser.json, line');
    },
  );
});

it.each([
  ['an area that is turned inside out', { areaMm: [90, 0, 0, 90] }, /x0, y0, x1, y1 with x1 > x0 and y1 > y0/],
  ['a sine without a period', { terms: [{ ...UU, shape: 'sin u' }] }, /a periodMm for sines, and for nothing else/],
  ['a covariance of other terms', { covariance: [] }, /as many rows and columns as there are terms/],
  ['bends of centimetres', { terms: [{ ...UU, mm: 12 }] }, /move places by a few percent of the bed at most/],
])('refuses a field of %s', async (_, wrong, words) => {
  const text = profileOf({}, { field: { ...FIELD, ...wrong } });
  await expect(parseProfile(text, 'laser.json')).rejects.toThrow(words);
  expect((await parseProfile(profileOf({}, { field: FIELD }), 'laser.json')).field).toEqual(FIELD);
});
