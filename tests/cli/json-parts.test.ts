import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { jsonParts } from '../../src/cli/results.js';

describe('JSON in parts', () => {
  it('says what JSON.stringify says, and nothing but entries of lists stand otherwise', () => {
    fc.assert(
      fc.property(fc.dictionary(fc.string(), fc.jsonValue()), (value) => {
        const text = Buffer.concat([...jsonParts(value)]).toString();
        const plain = JSON.stringify(value, undefined, 2);
        expect(JSON.stringify(JSON.parse(text), undefined, 2)).toBe(plain);
        if (!Object.values(value).some((inner) => Array.isArray(inner))) expect(text).toBe(`${plain}\n`);
      }),
      { seed: 7, numRuns: 200 },
    );
  });

  it('holds for long lists, and for what is left out', () => {
    const list = Array.from({ length: 1201 }, (_, i) => ({ i, text: `’ ${i}\n` }));
    const shared = [{ why: '0.3 mm²', of: [1, 2] }, {}];
    const sharing = list.map(({ i }) => ({ i, shared, own: [i], none: [], nothing: i % 2 ? undefined : {} }));
    const value = { first: undefined, list, sharing, none: [], holes: [undefined, 1], last: null };
    const text = Buffer.concat([...jsonParts(value)]).toString();
    expect(JSON.parse(text)).toEqual(JSON.parse(JSON.stringify(value)));
    expect(text).toContain('\n    {"i":1200,"text":"’ 1200\\n"}\n  ],\n');
    expect(text.match(/\n/g)).toHaveLength(2 * (1201 + 2) + 8);
  });
});
