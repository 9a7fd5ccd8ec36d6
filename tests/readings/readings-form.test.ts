import { describe, expect, it } from 'vitest';
import { InputError } from '../../src/errors.js';
import { decodeText } from '../../src/readings/csv-rows.js';
import { parsePercentage, parseSpeed } from '../../src/readings/length.js';
import { parseReadings } from '../../src/readings/parse-readings.js';

const formOf = (lines: string[], header = 'feature,reading_mm') =>
  parseReadings([header, ...lines, 'S1,1'].join('\n'), 'a.csv').form;

describe('the form in a readings file', () => {
  const filled: [what: string, line: string, wanted: object][] = [
    ['behind the colon', '# film (such as PET): polyimide', { film: 'polyimide' }],
    ['in the next cell', '# film (such as PET):,polyimide,,,', { film: 'polyimide' }],
    ['with a decimal comma behind the colon', '# thickness: 0,1', { thicknessMm: 0.1 }],
    ['with a decimal comma behind the colon, and empty cells', '# thickness: 0,1,,,', { thicknessMm: 0.1 }],
    ['with a decimal comma in a quoted cell', '# thickness:,"0,1 mm",,', { thicknessMm: 0.1 }],
    ['as one quoted cell', '"# thickness: 0,1 mm",,', { thicknessMm: 0.1 }],
    ['with an inch mark in a quoted cell', '# thickness:,"0.004""",,', { thicknessMm: 0.1016 }],
    ['a speed per minute', '# speed: 3000 mm/min', { speedMmS: 50 }],
    ['a power as a spreadsheet writes it', '# power:,45.00%', { powerPercent: 45 }],
    ['a day as written with dots', '# date: 9.4.2031', { date: '2031-04-09' }],
    ['a day with slashes that can mean one day only', '# date: 04/29/2031', { date: '2031-04-29' }],
    ['a gauge by its name', '# gauge: loupe', { gauge: 'loupe' }],
    ['a gauge by its step', '# gauge: 10 um', { resolutionMm: 0.01 }],
    ['a gauge by name and step', '# gauge: loupe, 0.05 mm', { gauge: 'loupe', resolutionMm: 0.05 }],
    ['nothing filled in', '# film (such as PET):', {}],
    ['a note with a colon', '# remember: wear eyewear', {}],
  ];
  it.each(filled)('is read %s', (_what, line, wanted) => {
    expect(formOf([line])).toEqual(wanted);
  });

  const refused: [line: string, words: RegExp][] = [
    ['# thickness: thin', /line 2, "thickness": expected a length/],
    ['# power: 120 %', /up to 100 %/],
    ['# speed: 0', /speed > 0/],
    ['# date: 04/05/2031', /YYYY-MM-DD; found "04\/05\/2031"/],
    ['# passes: 1.5', /whole number/],
    ['# film: pet\n# film: polyimide', /twice: "pet" and "polyimide"/],
    ['# Film, thickness, power, speed, passes, date: pet, 0.1, 45, 100, 1, 2031-04-09', /a line of its own/],
  ];
  it.each(refused)('refuses %j', (line, words) => {
    expect(() => formOf([line])).toThrow(InputError);
    expect(() => formOf([line])).toThrow(words);
  });
});

describe('what machines show', () => {
  // An inch is 25.4 mm exactly, by the international yard and pound agreement of 1959.
  it.each([
    ['100', 100],
    ['6000mm/min', 100],
    ['6 m/min', 100],
    ['2 in/s', 50.8],
    ['120 in/min', 50.8],
    ['1,5 mm/s', 1.5],
    ['46000mm/min', 766.667],
    ['ten', undefined],
    ['3 furlongs', undefined],
    ['', undefined],
  ])('the speed %j is %f mm/s', (text, wanted) => {
    const found = parseSpeed(text);
    if (wanted === undefined) expect(found).toBeUndefined();
    else expect(found).toBeCloseTo(wanted, 10);
  });

  it.each([
    ['45', 45],
    ['45 %', 45],
    ['45,5%', 45.5],
    ['half', undefined],
    ['4 mm', undefined],
  ])('the power %j is %f %%', (text, wanted) => {
    expect(parsePercentage(text)).toBe(wanted);
  });
});

describe('rows that a spreadsheet showed in its first column', () => {
  const readings = (text: string) =>
    parseReadings(text, 'a.csv').readings.map(({ readingMm, outcome, note }) => [readingMm, outcome, note]);
  it.each([
    ['saved with semicolons, as one quoted cell', '"feature,reading_mm,outcome,note";\n"S1,,,""wide, long""";0,31\n', [[0.31, undefined, 'wide, long']]],
    ['saved with semicolons, without quotes', 'feature,reading_mm,outcome,note;\nS1,,,wide;0,31\n', [[0.31, undefined, 'wide']]],
    ['saved with tabs', 'feature,reading_mm,outcome,note\t\nS1,,,wide\tgone\n', [[undefined, 'gone', 'wide']]],
    ['saved with commas', '"feature,reading_mm,outcome,note",\n"S1,,,wide","0,31"\n', [[0.31, undefined, 'wide']]],
    ['and outcomes typed two columns on', 'feature,reading_mm,outcome,note;;\nS1,,,wide;0,31;closed\n', [[0.31, 'closed', 'wide']]],
  ])('are read when %s', (_what, text, wanted) => {
    expect(readings(text)).toEqual(wanted);
  }); // biome-ignore format: a table

  it('are not seen in a note that holds a semicolon', () => {
    expect(readings('feature,reading_mm,outcome,note\nS1,0.31,,wide; long\n')).toEqual([
      [0.31, undefined, 'wide; long'],
    ]);
  });
});

it('a word for an outcome is understood in the first blank column, and by its first letter', () => {
  const text = 'feature,reading_mm,outcome\nC1,Through\nC2,m\nC3,,p\nC4,u\n';
  expect(parseReadings(text, 'a.csv').readings.map(({ outcome }) => outcome)).toEqual([
    'through',
    'marked',
    'partial',
    'uncut',
  ]);
});

it('UTF-16 is told without its mark too', () => {
  const text = 'feature\treading_mm\nS1\t1\n';
  const little = new Uint8Array(new Uint16Array([...text].map((c) => c.charCodeAt(0))).buffer);
  expect(decodeText(little)).toBe(text);
  expect(decodeText(Uint8Array.from(little, (_, i) => little[i ^ 1]))).toBe(text);
});
