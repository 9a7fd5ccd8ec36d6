import { describe, expect, it } from 'vitest';
import { controlConstants } from '../../../src/fit/drift/control-constants.js';

/** Sizes 2 to 10 as the NIST/SEMATECH e-Handbook, 6.3.2.1, prints them (its table's values, written from memory). */
const PRINTED: [name: 'A2' | 'D3' | 'D4' | 'A3' | 'B3' | 'B4' | 'c4' | 'd2' | 'd3', values: number[], digits: number][] = [
  ['d2', [1.128, 1.693, 2.059, 2.326, 2.534, 2.704, 2.847, 2.97, 3.078], 3],
  ['d3', [0.853, 0.888, 0.88, 0.864, 0.848, 0.833, 0.82, 0.808, 0.797], 3],
  ['c4', [0.7979, 0.8862, 0.9213, 0.94, 0.9515, 0.9594, 0.965, 0.9693, 0.9727], 4],
  ['A2', [1.88, 1.023, 0.729, 0.577, 0.483, 0.419, 0.373, 0.337, 0.308], 3],
  ['A3', [2.659, 1.954, 1.628, 1.427, 1.287, 1.182, 1.099, 1.032, 0.975], 3],
  ['B3', [0, 0, 0, 0, 0.03, 0.118, 0.185, 0.239, 0.284], 3],
  ['B4', [3.267, 2.568, 2.266, 2.089, 1.97, 1.882, 1.815, 1.761, 1.716], 3],
  ['D3', [0, 0, 0, 0, 0, 0.076, 0.136, 0.184, 0.223], 3],
  ['D4', [3.267, 2.575, 2.282, 2.115, 2.004, 1.924, 1.864, 1.816, 1.777], 3],
]; // biome-ignore format: a table

describe('factors of control charts', () => {
  it.each(PRINTED)('%s is the printed one for sizes 2 to 10', (name, values, digits) => {
    // Tables made from rounded factors are off by one in the last digit here and there.
    values.forEach((value, i) => {
      expect(Math.abs(controlConstants(i + 2)[name] - value)).toBeLessThan(1.01 * 10 ** -digits);
    });
  });

  it('has the closed forms of sizes 2 to 5 to ten digits', () => {
    const root = Math.sqrt(Math.PI);
    expect(controlConstants(2).d2).toBeCloseTo(2 / root, 11);
    expect(controlConstants(2).d3).toBeCloseTo(Math.sqrt(2 - 4 / Math.PI), 11);
    expect(controlConstants(3).d2).toBeCloseTo(3 / root, 11);
    // L. H. C. Tippett (1925): d2(4) and d2(5) by the angle arcsin(1/3).
    const angle = Math.asin(1 / 3);
    expect(controlConstants(4).d2).toBeCloseTo((6 / root) * (0.5 + angle / Math.PI), 10);
    expect(controlConstants(5).d2).toBeCloseTo((10 / root) * (0.25 + (1.5 * angle) / Math.PI), 10);
    expect(controlConstants(2).c4).toBeCloseTo(Math.sqrt(2 / Math.PI), 13);
    expect(controlConstants(3).c4).toBeCloseTo(root / 2, 13);
  });

  it('goes to size 1000 and no further', () => {
    expect(controlConstants(1000).d2).toBeCloseTo(6.4829, 3); // Tippett's table prints 6.48287 (from memory)
    expect(controlConstants(1000).c4).toBeCloseTo(1 - 1 / 4000, 5);
    for (const size of [1, 2.5, 1001, Number.NaN]) expect(() => controlConstants(size)).toThrow(RangeError);
  });
});
