import { describe, expect, it } from 'vitest';
import { type Answer, parameterResults } from '../../../src/fit/calibration/profile-fit.js';
import { parameterWarnings, scaleHints } from '../../../src/fit/calibration/warnings.js';
import { PARAMETER_NAMES } from '../../../src/machine/types.js';

const session = (pitchXMm: number, pitchYMm = pitchXMm) => [
  { coupon: 'c', canvas: { widthMm: 100, heightMm: 100, pitchXMm, pitchYMm }, features: [], readings: [] },
];

describe('scaleHints', () => {
  // The factors follow from 25.4 mm to the inch alone.
  const cases: [what: string, x: number, y: number, pitch: [number, number?], words: RegExp][] = [
    ['mm as pixels of 96 dpi', 0.2651, 0.264, [0.0254], /pixels of 96 dpi/],
    ['mm as pixels of 72 dpi', 0.3528, 0.3528, [0.0254], /pixels of 72 dpi/],
    ['mm as inches', 25.42, 25.37, [0.0254], /mm were taken as inches/],
    ['inches as mm', 1 / 25.4, 1 / 25.4, [0.0254], /inches were taken as mm/],
    ['a file of 96 dpi on 1000', 0.096, 0.096, [25.4 / 96], /\(96 dpi\) and assumes 1000 dpi/],
    ['a file of 1000 dpi on 254', 3.93, 3.94, [0.0254], /\(1000 dpi\) and assumes 254 dpi/],
    ['72 taken as 96', 0.7505, 0.7492, [0.0254], /made for 72 dpi was taken as 96/],
    ['dots taken as square', 0.508, 1, [0.05, 0.0254], /takes the dots as square/],
    ['line interval twice the pitch', 1, 2.001, [0.05], /whole factor \(Y is 2 times X\)/],
    ['nothing usual', 1.37, 1.37, [0.0254], /no usual mistake/],
  ];
  it.each(cases)('%s', (_what, x, y, pitch, words) => {
    expect(scaleHints([x, y], session(...pitch), false).join(' ')).toMatch(words);
  });

  it('names the size of the coupon, and says when it speaks of some readings only', () => {
    const hints = scaleHints([0.79, 1.1], session(0.0254), true);
    expect(hints[0]).toMatch(/^Scale X without the readings that stand out is 0\.79,/);
    expect(hints.at(-1)).toMatch(/another size of the coupon.*canvas of 100\.0 x 100\.0 mm/);
  });

  it('needs no explanation for what belts do', () => {
    expect(scaleHints([1.01, 0.985], session(0.05), false)).toEqual([]);
  });
});

it('a poorly known scale is told with the doubt that the table has', () => {
  const answer = (half: number): Answer => ({
    modelName: '',
    parameters: [1, 1, 0, 0.1, 0.1],
    assumed: [false, true, true, true, true],
    covariance: PARAMETER_NAMES.map((_, j) => PARAMETER_NAMES.map((__, k) => (j === k ? (half / 2) ** 2 : 0))),
    parameterDof: [9, 9, 9, 9, 9],
    residualSdMm: 0.01,
    dof: 9,
    intervals: PARAMETER_NAMES.map(() => [1 - half, 1 + half]),
  });
  const told = parameterResults(answer(0.108));
  const [warning] = parameterWarnings(answer(0.012), told);
  expect(warning.message).toContain('± 11 mm over 100 mm');
  expect(parameterWarnings(answer(0.0005), told)).toEqual([]);
});
