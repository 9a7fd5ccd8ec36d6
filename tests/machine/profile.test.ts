import { describe, expect, it } from 'vitest';
import { InputError } from '../../src/errors.js';
import { fitSessions } from '../../src/fit/calibration/fit-sessions.js';
import { correctOpenings } from '../../src/machine/correct-openings.js';
import { filmHazard } from '../../src/machine/film-hazards.js';
import { machineModel } from '../../src/machine/machine-model.js';
import { predictCut } from '../../src/machine/predict-cut.js';
import { makeProfile, parseProfile, profileText } from '../../src/machine/profile-file.js';
import { PARAMETER_NAMES } from '../../src/machine/types.js';
import { makeStencil, type StencilProfile } from '../../src/stencil/make-stencil.js';
import { benchFeatures, readAll } from '../fit/calibration/virtual-bench.js';
import { seeded } from '../virtual-laser/random.js';

const features = benchFeatures();
const session = {
  coupon: 'bench',
  date: '2031-04-09',
  canvas: { widthMm: 150, heightMm: 100, pitchXMm: 0.0254, pitchYMm: 0.05 },
  features,
  readings: [
    ...readAll(features, [1.0021, 0.9978, 0.003, 0.141, 0.118], seeded(1)),
    { feature: features[0].id, readingMm: 140.1, note: 'read it', file: '/home/somebody/a.csv', line: 3 },
    { feature: features[1].id, readingMm: 100.1, note: 'a scratch here' },
  ],
};
const result = fitSessions([session]);
const profile = makeProfile({
  name: 'desk laser',
  machine: 'the one by the window',
  film: { kind: 'pet', thicknessMm: 0.1 },
  settings: { powerPercent: 40, speedMmS: 100, passes: 1 },
  fit: result.fit,
  limits: result.limits,
  sessions: [session],
});

describe('a profile', () => {
  it('comes back from its text as it was, to the digits that are kept', async () => {
    const back = await parseProfile(profileText(profile), 'a.profile.json');
    expect(profileText(back)).toBe(profileText(profile));
    expect(back.sessions).toEqual(profile.sessions);
    expect(back.pitchMm).toEqual({ x: 0.0254, y: 0.05 });
    for (const name of PARAMETER_NAMES) expect(back.fit[name].value).toBeCloseTo(profile.fit[name].value, 8);
  });

  it('gives the same text for the same profile, with short lines that a person can compare', () => {
    const text = profileText(profile);
    expect(text).toBe(profileText(JSON.parse(JSON.stringify(profile))));
    expect(Math.max(...text.split('\n').map((line) => line.length))).toBeLessThan(230);
    expect(Object.keys(JSON.parse(text)).slice(0, 4)).toEqual(['format', 'version', 'name', 'machine']);
  });

  it('can be fitted again from what it holds, to the same answer', async () => {
    const back = await parseProfile(profileText(profile), 'a.profile.json');
    const again = fitSessions(back.sessions);
    for (const name of PARAMETER_NAMES) expect(again.fit[name].value).toBeCloseTo(profile.fit[name].value, 12);
  });

  it('keeps a note of the reader, but neither the bench sentence nor the place of a file', () => {
    const kept = profile.sessions[0].readings.slice(-2);
    expect(kept).toEqual([
      { feature: features[0].id, readingMm: 140.1 },
      { feature: features[1].id, readingMm: 100.1, note: 'a scratch here' },
    ]);
    expect(profileText(profile)).not.toContain('somebody');
  });

  it('may be written by hand with five bare numbers', async () => {
    const text = `{ "format": "apertrue-profile", "version": 1, "name": "by hand",
      "fit": { "scaleX": 1.002, "scaleY": 0.998, "shear": 0, "kerfXMm": 0.14, "kerfYMm": { "value": 0.12 } } }`;
    const parsed = await parseProfile(text, 'hand.json');
    expect(machineModel(parsed)).toEqual({ scaleX: 1.002, scaleY: 0.998, shear: 0, kerfXMm: 0.14, kerfYMm: 0.12 });
    expect(parsed.sessions).toEqual([]);
  });

  const text = profileText(profile);
  const refused: [what: string, text: string, code: string, words: RegExp][] = [
    ['text that is not JSON', text.slice(0, 100), 'JSON_SYNTAX', /a\.json, line/],
    ['an unknown key, with the nearest one', text.replace('"machine"', '"machin"'), 'UNKNOWN_KEY', /line 5.*Did you mean "machine"/],
    ['another format', text.replace('apertrue-profile', 'apertrue-features'), 'BAD_VALUE', /line 2, "format"/],
    ['a kerf below zero', text.replace(/"kerfXMm": \{ "value": /, '$&-'), 'BAD_VALUE', /"fit\.kerfXMm/],
    ['a scale of zero', text.replace(/"scaleX": \{ "value": [\d.]+/, '"scaleX": { "value": 0'), 'BAD_VALUE', /"fit\.scaleX/],
    ['a day that is none', text.replace('2031-04-09', '9 April'), 'BAD_VALUE', /YYYY-MM-DD/],
    ['a missing number', text.replace(/"shear": .*\n/, ''), 'BAD_VALUE', /"fit\.shear"/],
  ]; // biome-ignore format: a table
  it.each(refused)('is refused with %s', async (_what, wrong, code, words) => {
    await expect(parseProfile(wrong, 'a.json')).rejects.toThrow(
      expect.objectContaining({ code, message: expect.stringMatching(words) }),
    );
  });
});

describe('machineModel', () => {
  const five = { scaleX: 1, scaleY: 1, shear: 0, kerfXMm: 0.1, kerfYMm: 0.1 };
  it('takes a profile, a result, a fit, or five numbers', () => {
    expect(machineModel(five)).toEqual(five);
    expect(machineModel({ fit: five })).toEqual(five);
    expect(machineModel(profile)).toEqual(machineModel(result));
  });

  it('refuses what is no profile, and numbers that no machine has', () => {
    expect(() => machineModel({} as never)).toThrow(expect.objectContaining({ code: 'NOT_A_PROFILE' }));
    expect(() => machineModel(null as never)).toThrow(InputError);
    for (const wrong of [{ scaleX: 0 }, { scaleY: -1 }, { kerfXMm: -0.01 }, { shear: Number.NaN }]) {
      expect(() => machineModel({ ...five, ...wrong })).toThrow(expect.objectContaining({ code: 'BAD_PROFILE' }));
    }
  });
});

describe('filmHazard', () => {
  // University of Texas, "Prohibited Laser Cutter Materials": PVC, vinyl, faux leather, halogenated, unknown and self-adhesive films.
  it.each([
    'PVC',
    'vinyl',
    'clear vinyl sheet',
    'u-pvc',
    'polyvinyl chloride',
    'faux leather',
    'PTFE',
    'unknown',
    'self-adhesive film',
    ...['P.V.C.', 'Hart-PVC', 'Weichpvc', 'PVC_film', 'Vinylfolie', 'Poly-Vinyl-Chlorid', 'Kunstleder', 'leatherette'],
    ...['FEP', 'ETFE', 'PVDF', 'PVF', 'polyvinyl fluoride', 'Fluorpolymer', 'Polytetrafluorethylen', 'ePTFE'],
    ...['non-stick film', 'Antihaftfolie', 'chlorinated PE', 'PVDC', 'Polyvinylidenchlorid'],
    ...['sticker', 'Aufkleber', 'window cling', 'cling film', 'Klebefolie', 'Selbstklebefolie', 'selbstklebend'],
    ...['Adhäsionsfolie', 'Adhaesionsfolie', 'nitrocellulose', 'Nitrozellulose', 'cellulose nitrate', 'Zelluloid'],
    ...['PVC-free self-adhesive', 'fluorine-free vinyl', 'unbekannte Folie', '???'],
  ])('says never of %s', (film) => {
    expect(filmHazard(film)?.verdict).toBe('never');
  });

  it.each([
    ...['pet', 'polyimide', 'PET-G', 'polyester', 'PI', 'Polyimidfolie', 'amber tape', 'PETG', 'PET-Folie', 'Petfolie'],
    ...['overhead transparency', 'Overheadfolie', 'Polyesterfolie', 'BOPET', 'acetate', 'Azetatfolie'],
    ...['polycarbonate', 'Polykarbonat', 'ABS', 'polystyrene foam', 'Polystyrolschaum', 'laminating pouch'],
    ...['Laminierfolie', 'polyimide tape', 'label sheet', 'Etiketten'],
  ])('names the fumes of %s', (film) => {
    expect(filmHazard(film)).toMatchObject({ verdict: 'caution', reason: expect.stringContaining('fumes') });
  });

  it('does not take one word for another', () => {
    for (const free of [
      'PVC-free pet',
      'PET, PVC-frei',
      'pet without PVC',
      'PET halogenfrei',
      'PET free of chlorine',
      'Pet, fluorfrei',
      'PET, non-adhesive',
    ])
      expect(filmHazard(free)).toEqual(filmHazard('pet'));
    expect(filmHazard('fluorescent polyester').verdict).toBe('caution');
    for (const known of ['ABS', 'foam']) expect(filmHazard(known).reason).not.toMatch(/nothing is known/);
  });

  it('asks what a name stands for that tells nothing of the plastic', () => {
    for (const film of ['carpet', 'Superfilm 2000', 'plastic'])
      expect(filmHazard(film)).toMatchObject({
        verdict: 'caution',
        reason: expect.stringMatching(/nothing is known.*fumes/),
      });
  });
});

it('is not applied to openings alone where it knows bends of the bed, and that is told', () => {
  const square = [{ outer: [[0, 0], [1, 0], [1, 1], [0, 1]] as const, islands: [] }]; // biome-ignore format: one line
  const term = { kind: 'legendre', along: 'x', i: 2, j: 0, mm: 0.1 } as const;
  const bent = { ...profile, field: { terms: [term] } } as unknown as typeof profile;
  for (const doors of [correctOpenings, predictCut]) {
    expect(doors(square, bent).warnings).toMatchObject([
      { code: 'BENDS_LEFT_OUT', hint: expect.stringContaining('makeStencil') },
    ]);
    expect(doors(square, profile).warnings).toEqual([]);
  }
});

it('as it stands in its file makes the same stencil as when it is read', async () => {
  const artwork = { openings: [{ outer: [[1, 1], [2, 1], [2, 2], [1, 2]], islands: [] }] } as const; // biome-ignore format: one line
  const raw = JSON.parse(profileText(profile));
  const dots = (source: StencilProfile) =>
    makeStencil({ ...artwork, side: 'top' }, source).commanded.dots?.image.placed;
  expect(dots(raw)).toEqual(dots(await parseProfile(profileText(profile), 'a.profile.json')));
});

it.each([1e-320, 1e-200, 1e-12, 0])(
  'with a cut %s mm wide across X makes the dots of one without width there',
  (value) => {
    const ring = [[1, 1], [1.3, 1], [1.3, 1.25], [1, 1.25]] as const; // biome-ignore format: one line
    const round = Array.from({ length: 40 }, (_, i) => [3 + Math.cos(i / 6.4), 3 + Math.sin(i / 6.4)] as const);
    const openings = [ring, round].map((outer) => ({ outer, islands: [] }));
    const dots = (kerf: number) => {
      const fit = { ...profile.fit, kerfXMm: { ...profile.fit.kerfXMm, value: kerf } };
      return makeStencil({ openings, side: 'top' }, { ...profile, fit }).commanded.dots?.image.placed;
    };
    expect(dots(value)).toEqual(dots(0));
  },
);
