import { describe, expect, it } from 'vitest';
import { thicknessWords } from '../../src/cli/layout/stencil.js';
import { letter, letteringLengthMm } from '../../src/lettering/lettering.js';

describe('cut words', () => {
  const options = { heightMm: 2.5 };
  it.each([
    ['Größe', 'GROESSE'],
    ['Cafe\u0301', 'CAFE'],
    ['Ångström', 'AANGSTROEM'],
  ])('%s is spelt out as %s', (text, wanted) => {
    expect(letter(text, options)).toEqual(letter(wanted, options));
    expect(letteringLengthMm(text, options)).toBe(letteringLengthMm(wanted, options));
  });

  it('what has no spelling is still refused', () => {
    expect(() => letter('µ漢', options)).toThrow(/can't cut the character/);
  });

  // 1 mil is 0.0254 mm (international yard and pound agreement of 1959).
  it.each([
    [3 * 0.0254, '3 mil'],
    [0.1, '0.1 mm'],
    [0.127, '5 mil'],
    [0.075, '0.075 mm'],
  ])('a film of %d mm is cut as %s', (mm, words) => {
    expect(thicknessWords(mm)).toBe(words);
  });
});
