import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { shortMm, TextBytes } from '../../../src/export/formats/text-bytes.js';

const written = (about: number, values: readonly number[]): string => {
  const text = new TextBytes(about);
  for (const value of values) text.addMm(' ', value);
  text.add('µ');
  return new TextDecoder().decode(text.all());
};

describe('numbers as bytes', () => {
  it('are what ECMAScript writes of a number rounded to 10 nm, and what is longer than foreseen is all there', () => {
    const mm = fc.oneof(
      fc.double({ min: -2e4, max: 2e4, noNaN: true }),
      fc.integer({ min: -2e9, max: 2e9 }).map((steps) => steps / 1e5),
      fc.constantFrom(0, -0, 4.9e-6, -4.9e-6, 5e-6, 0.00001, -0.00001, 9.999999, 10, 99999.99999, 100_000),
    );
    fc.assert(
      fc.property(fc.array(mm, { maxLength: 40 }), fc.integer({ min: 0, max: 200 }), (values, about) => {
        expect(written(about, values)).toBe(`${values.map((value) => ` ${shortMm(value)}`).join('')}µ`);
      }),
      { seed: 3, numRuns: 300 },
    );
  });
});
