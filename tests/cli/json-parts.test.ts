import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { jsonParts } from '../../src/cli/json-parts.js';

describe('JSON in parts', () => {
  it('is what JSON.stringify makes, byte for byte', () => {
    fc.assert(
      fc.property(fc.dictionary(fc.string(), fc.jsonValue()), (value) => {
        expect(Buffer.concat([...jsonParts(value)]).toString()).toBe(`${JSON.stringify(value, undefined, 2)}\n`);
      }),
      { seed: 7, numRuns: 200 },
    );
  });

  it('holds for long lists, and for what is left out', () => {
    const list = Array.from({ length: 1201 }, (_, i) => ({ i, text: `’ ${i}\n` }));
    const shared = [{ why: '0.3 mm²', of: [1, 2] }, {}];
    const sharing = list.map(({ i }) => ({ i, shared, own: [i], none: [], nothing: i % 2 ? undefined : {} }));
    const value = { first: undefined, list, sharing, none: [], holes: [undefined, 1], last: null };
    expect(Buffer.concat([...jsonParts(value)]).toString()).toBe(`${JSON.stringify(value, undefined, 2)}\n`);
  });
});
