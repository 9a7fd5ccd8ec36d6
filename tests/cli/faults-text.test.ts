import { describe, expect, it } from 'vitest';
import { faultCells, faultRows } from '../../src/cli/machine-words.js';
import type { Fault } from '../../src/stencil/faults.js';

const narrow = (opening: number, gotMm = 0.282): Fault => ({
  opening,
  what: ['area'],
  at: [opening, 2],
  askedMm: [0.3, 1.2],
  gotMm: [gotMm, 1.2],
  askedMm2: 0.36,
  gotMm2: gotMm * 1.2,
});
const linesOf = (faults: readonly Fault[], name = (fault: Fault) => `opening ${fault.opening}`): string[] =>
  faultRows(faults, name)
    .trimEnd()
    .split('\n')
    .map((line) => line.trim());

describe('openings that do not come out as asked', () => {
  it('share a line when only their numbers and places differ', () => {
    expect(linesOf([narrow(3), narrow(4), narrow(8, 0.27), narrow(5), narrow(9)])).toEqual([
      'not right   5 openings do not come out as asked:',
      'opening 3 at 3.000, 2.000: asked 0.300 x 1.200 mm, comes out 0.282 x 1.200 mm; area −6.0 %; 3 like it: 4-5, 9',
      'opening 8 at 8.000, 2.000: asked 0.300 x 1.200 mm, comes out 0.270 x 1.200 mm; area −10.0 %',
    ]);
    expect(linesOf([narrow(3, 0.33)])[1]).toMatch(/area \+10\.0 %$/);
  });

  it('but not when they are of two stencils, and letters have no number', () => {
    const name = ({ opening }: Fault): string => ['a paste 1', 'a lettering', 'b paste 1', 'a lettering'][opening];
    expect(
      linesOf(
        [0, 1, 2, 3].map((opening) => narrow(opening)),
        name,
      ).slice(1),
    ).toEqual([
      expect.stringMatching(/^a paste 1 at .* %$/),
      expect.stringMatching(/^a lettering at .*; 1 like it$/),
      expect.stringMatching(/^b paste 1 at .* %$/),
    ]);
  });

  it('share a row of a table, too, with all their numbers', () => {
    const faults = [3, 4, 5, 9].map((opening) => narrow(opening)).concat(narrow(8, 0.27));
    expect(faultCells(faults, ({ opening }) => `a paste ${opening}`)).toEqual([
      ['a paste 3-5, 9', expect.stringMatching(/^the first at 3\.000, 2\.000: asked .* area −6\.0 %$/)],
      ['a paste 8', expect.stringMatching(/^at 8\.000, 2\.000: asked .* area −10\.0 %$/)],
    ]);
    expect(faultCells([narrow(1), narrow(2)], () => 'a lettering').map(([name]) => name)).toEqual(['2 x a lettering']);
  });

  it('are counted where there are more kinds than are shown', () => {
    const faults = Array.from({ length: 40 }, (_, i) => narrow(i + 1, 0.28 - 0.001 * Math.floor(i / 2)));
    expect(linesOf(faults).at(-1)).toBe('… and 16 more, all in the .job.json');
  });
});
