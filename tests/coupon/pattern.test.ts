import { readFileSync } from 'node:fs';
import { describe, expect, it } from 'vitest';
import { BUILT_IN_PATTERNS, builtInPattern, readPattern } from '../../src/coupon/built-in.js';
import { generateCoupon } from '../../src/coupon/generate.js';
import { expressionEvaluator } from '../../src/coupon/laying.js';
import { parseFeatures } from '../../src/coupon/parse-features.js';
import type { Pattern } from '../../src/coupon/pattern.js';
import { InputError } from '../../src/errors.js';

const file = (name: string): string => readFileSync(new URL(`../../patterns/${name}`, import.meta.url), 'utf8');

const OWN: Pattern = {
  format: 'apertrue-pattern',
  version: 1,
  name: 'own',
  title: 'A ruler of my own',
  prefix: 'Z',
  smallestBedMm: [30, 12],
  parameters: { slot: '12.2 mil', length: 'width - 10' },
  steps: [],
  elements: [
    {
      kind: 'ruler',
      axis: 'x',
      at: ['2 mm', 'height / 2'],
      lengthMm: 'length',
      slotMm: ['slot', '3000 um'],
      spans: [[0, 'length']],
      labels: false,
    },
  ],
};

async function codeOf(promise: Promise<unknown>): Promise<string> {
  const error = await promise.then(
    () => undefined,
    (reason: unknown) => reason,
  );
  expect(error).toBeInstanceOf(InputError);
  return (error as InputError).code;
}

describe('patterns', () => {
  it.each(BUILT_IN_PATTERNS)('%s is valid by its schema and is found by its name', async (name) => {
    expect(await readPattern(file(`${name}.json`), name)).toEqual(builtInPattern(name));
    expect(builtInPattern(name).name).toBe(name);
  });

  it.each(BUILT_IN_PATTERNS)('the features of %s are valid by their schema', async (name) => {
    const { features } = await generateCoupon(name, { widthMm: 120, heightMm: 90, pitchXMm: 0.05 });
    expect(parseFeatures(JSON.stringify(features), 'features.json')).toEqual(features);
  });

  it('a pattern of the user with units and names is laid out on the dots', async () => {
    const coupon = await generateCoupon(OWN, { widthMm: 40, heightMm: 20, pitchXMm: 0.05 });
    expect(coupon.features.features).toHaveLength(1);
    expect(coupon.features.features[0]).toMatchObject({ from: [2, 11.5], to: [32, 11.5], nominalMm: 30 });
    const xs = coupon.openings[0].outer.map(([x]) => x);
    // 12.2 mil are 0.30988 mm: six dots of 0.05 mm.
    expect(Math.max(...xs) - Math.min(...xs)).toBeCloseTo(0.3, 9);
  });

  it('an unknown key of a pattern file is refused with line and nearest name', async () => {
    const text = JSON.stringify(OWN, null, 1).replace('"lengthMm"', '"lenghtMm"');
    const error = await readPattern(text, 'own.json').catch((reason: unknown) => reason);
    expect((error as InputError).message).toMatch(/own\.json, line \d+, "elements\.0\.lenghtMm"/);
  });

  it('openings on top of each other are refused with their place', async () => {
    const twice = { ...OWN, elements: [OWN.elements[0], { kind: 'label', text: 'X', at: [2, 11] } as const] };
    expect(await codeOf(generateCoupon(twice, { widthMm: 40, heightMm: 20, pitchXMm: 0.05 }))).toBe('COUPON_CROWDED');
  });

  it('openings beyond the canvas are refused', async () => {
    const beyond = { ...OWN, elements: [{ kind: 'label', text: 'X', at: [39.5, 5] } as const] };
    expect(await codeOf(generateCoupon(beyond, { widthMm: 40, heightMm: 20, pitchXMm: 0.05 }))).toBe('COUPON_OUTSIDE');
  });

  it.each([
    ['a parameter that is given already', { parameters: { width: 3 } }, 'BAD_EXPRESSION'],
    ['a condition that is a number', { elements: [{ ...OWN.elements[0], when: 'width' }] }, 'BAD_EXPRESSION'],
    [
      'a slanted slot that falls apart',
      { elements: [{ kind: 'diagonal', from: [5, 5], to: [15, 12], slots: 2, slotMm: [0.05, 2] }] },
      'PITCH_TOO_COARSE',
    ],
  ])('%s is refused', async (_words, part, code) => {
    const pattern = { ...OWN, ...part } as Pattern;
    expect(await codeOf(generateCoupon(pattern, { widthMm: 40, heightMm: 20, pitchXMm: 0.05 }))).toBe(code);
  });

  it('an element is left out when its condition does not hold', async () => {
    const only = {
      ...OWN,
      elements: [...OWN.elements, { kind: 'label', text: 'X', at: [2, 2], when: 'width > 50' } as const],
    };
    const count = async (widthMm: number) =>
      (await generateCoupon(only, { widthMm, heightMm: 20, pitchXMm: 0.05 })).labels.length;
    expect([await count(40), await count(60)]).toEqual([0, 1]);
  });
});

describe('expressions', () => {
  const scope = { width: 100, pitchX: 0.05 };
  it.each([
    [3.5, 3.5, 'a number as it is'],
    ['12.2 mil', 0.30988, 'inch = 25.4 mm exactly, so a mil is 0.0254 mm'],
    ['0.5 inch', 12.7, 'inch'],
    ['310 um', 0.31, 'micrometres'],
    ['width - 2 * 10 mm', 80, 'arithmetic with a name'],
    ['max(width / 4, 30) + round(2.4)', 32, 'functions'],
    ['width > 50 ? 1 : 2', 1, 'a choice'],
  ])('%s is %f (%s)', async (expression, expected, _why) => {
    const evaluator = await expressionEvaluator();
    expect(evaluator.number(expression, scope, 'k')).toBeCloseTo(expected, 12);
  });

  it.each([
    'import("fs")',
    'evaluate("1")',
    'parse("1")',
    'createUnit("x")',
    'a = 3',
    'f(x) = x',
    'width.constructor',
    '[1,2]',
    '"text"',
    'height',
    '1 / 0',
    'width +',
    'cos(1)',
    'toString',
    'constructor',
  ])('%s is refused with its key', async (expression) => {
    const evaluator = await expressionEvaluator();
    expect(() => evaluator.number(expression, scope, 'elements.0.at')).toThrow(InputError);
    expect(() => evaluator.number(expression, scope, 'elements.0.at')).toThrow(/"elements\.0\.at"/);
  });
});
