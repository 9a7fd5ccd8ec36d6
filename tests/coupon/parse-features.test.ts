import { describe, expect, it } from 'vitest';
import { parseFeatures } from '../../src/coupon/parse-features.js';
import { InputError } from '../../src/errors.js';

const file = {
  format: 'apertrue-features',
  version: 1,
  coupon: 'two-slots',
  canvas: { widthMm: 20, heightMm: 10, pitchXMm: 0.05, pitchYMm: 0.0254 },
  features: [
    { id: 'S1', kind: 'span', from: [1, 5], to: [11, 5], nominalMm: 10, side: 'near', say: 'left edge to left edge' },
    { id: 'O1', kind: 'opening', from: [1, 5], to: [2, 5], nominalMm: 1, say: 'width of the left slot' },
    { id: 'C1', kind: 'cell', powerPercent: 40, speedMmS: 100, box: [1, 1, 3, 3], say: 'what does it look like' },
    {
      id: 'V1',
      kind: 'vernier',
      measures: 'kerf',
      axis: 'x',
      lines: 11,
      zeroLine: 1,
      stepMm: 0.05,
      box: [4, 1, 9, 3],
      say: 'which line goes straight through',
    },
  ],
};

type Edit = (copy: typeof file & Record<string, unknown>) => void;

function problemsOf(edit: Edit) {
  const copy = structuredClone(file) as typeof file & Record<string, unknown>;
  edit(copy);
  try {
    parseFeatures(JSON.stringify(copy, null, 2), 'x.features.json');
  } catch (error) {
    expect(error).toBeInstanceOf(InputError);
    return (error as InputError).problems;
  }
  throw new Error('it was accepted');
}

describe('parseFeatures', () => {
  it('returns what the file says', () => {
    expect(parseFeatures(`\uFEFF${JSON.stringify(file)}`, 'x')).toEqual(file);
  });

  const cases: [string, Edit, { code: string; key?: string; line?: number; hint?: string }][] = [
    [
      'a mistyped key is refused with the nearest name',
      (f) => Object.assign(f.features[0], { nominalmm: 10 }),
      { code: 'UNKNOWN_KEY', key: 'features.0.nominalmm', hint: 'Did you mean "nominalMm"?' },
    ],
    ['an unknown root key is refused', (f) => (f.extra = 1), { code: 'UNKNOWN_KEY', key: 'extra' }],
    [
      'another format is refused',
      (f) => (f.format = 'apertrue-profile'),
      { code: 'BAD_VALUE', key: 'format', line: 2 },
    ],
    ['a newer version is refused', (f) => (f.version = 2), { code: 'BAD_VERSION', key: 'version', line: 3 }],
    ['a pitch of zero is refused', (f) => (f.canvas.pitchXMm = 0), { code: 'BAD_VALUE', key: 'canvas.pitchXMm' }],
    [
      'a nominal that is not the distance is refused',
      (f) => (f.features[0].nominalMm = 10.1),
      { code: 'NOMINAL_MISMATCH', key: 'features.0.nominalMm' },
    ],
    ['a repeated id is refused', (f) => (f.features[1].id = 'S1'), { code: 'REPEATED_FEATURE', key: 'features.1.id' }],
    [
      'an unknown kind is refused with the nearest',
      (f) => (f.features[1].kind = 'openings'),
      { code: 'BAD_VALUE', key: 'features.1.kind', hint: 'Did you mean "opening"?' },
    ],
    [
      'a point with one number is refused',
      (f) => Object.assign(f.features[1], { from: [1] }),
      { code: 'BAD_VALUE', key: 'features.1.from' },
    ],
    [
      'an opening with a side is refused',
      (f) => Object.assign(f.features[1], { side: 'far' }),
      { code: 'UNKNOWN_KEY', key: 'features.1.side' },
    ],
    [
      'what belongs to another kind is refused with the keys of its own',
      (f) => Object.assign(f.features[1], { zeroLine: 1 }),
      {
        code: 'UNKNOWN_KEY',
        key: 'features.1.zeroLine',
        hint: 'Known keys: id, kind, from, to, nominalMm, shape, by, say.',
      },
    ],
    [
      'a power above 100 % is refused',
      (f) => Object.assign(f.features[2], { powerPercent: 101 }),
      { code: 'BAD_VALUE', key: 'features.2.powerPercent' },
    ],
    [
      'a zero line beyond the last one is refused',
      (f) => Object.assign(f.features[3], { zeroLine: 12 }),
      { code: 'BAD_VALUE', key: 'features.3.zeroLine' },
    ],
    [
      'a box without area is refused',
      (f) => Object.assign(f.features[2], { box: [3, 1, 1, 3] }),
      { code: 'BAD_VALUE', key: 'features.2.box' },
    ],
    [
      'a feature that is no object is refused once',
      (f) => Object.assign(f, { features: [7] }),
      { code: 'BAD_VALUE', key: 'features.0' },
    ],
  ];
  it.each(cases)('%s', (_name, edit, { hint, key, line, code }) => {
    const problems = problemsOf(edit);
    const found = problems.find((problem) => problem.code === code && problem.place?.key === key);
    expect(found, JSON.stringify(problems)).toBeDefined();
    expect(found?.place?.file).toBe('x.features.json');
    expect(found?.place?.line).toBeGreaterThan(0);
    if (line !== undefined) expect(found?.place?.line).toBe(line);
    if (hint !== undefined) expect(found?.hint).toBe(hint);
    expect(problems).toHaveLength(1);
  });

  it('all problems of a file are told together', () => {
    const problems = problemsOf((f) => {
      f.coupon = '';
      f.canvas.widthMm = -1;
      f.features[0].say = '';
    });
    expect(problems.map((problem) => problem.place?.key)).toEqual(['coupon', 'canvas.widthMm', 'features.0.say']);
  });

  it('a text that is not JSON is refused with its line', () => {
    expect(() => parseFeatures('{\n "format": \n', 'x')).toThrow(InputError);
  });
});
