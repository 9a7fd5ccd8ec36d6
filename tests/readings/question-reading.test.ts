import { describe, expect, it } from 'vitest';
import type { DimensionalFeature } from '../../src/coupon/features.js';
import { parseLength } from '../../src/readings/length.js';
import { questionReading } from '../../src/readings/question-reading.js';

const feature = (kind: DimensionalFeature['kind'], nominalMm: number): DimensionalFeature => ({
  ...{ id: 'A', kind, from: [0, 0], to: [nominalMm, 0], nominalMm, say: 'read it' },
});

describe('questionReading', () => {
  // What was typed, where what is due, and what probably slipped: by hand.
  it.each([
    ['105.8in', 'span', 106, /: are these millimetres\? Then write mm .*\(that would be 105\.8 mm\)/],
    ['4.165', 'span', 106, /: are these inches\? Then write in .*\(that would be 105\.8 mm\)/],
    ['105800', 'span', 106, /: are these micrometres\?/],
    ['10.58', 'span', 106, /: is the decimal mark one place off\?/],
    ['0.99in', 'opening', 0.1, /: is the decimal mark two places off\? \(that would be 0\.2515 mm\)/],
    ['310', 'opening', 0.2, /: are these micrometres\? Then write um .*\(that would be 0\.31 mm\)/],
    ['12.2', 'opening', 0.2, /: are these mils\? Then write mil .*\(that would be 0\.3099 mm\)/],
    // A thousandth of it is next to nothing, and no micrometres were typed.
    ['99', 'span', 2, /: measured between the edges/],
    ['0.31in', 'opening', 0.2, /: are these millimetres\?/],
  ] as const)('%s for a %s of %s mm', (typed, kind, nominalMm, words) => {
    expect(questionReading(feature(kind, nominalMm), parseLength(typed)!, undefined)).toMatch(words);
  });

  it('asks nothing of what can be right', () => {
    expect(questionReading(feature('span', 106), parseLength('4.165in')!, undefined)).toBeUndefined();
  });
});
