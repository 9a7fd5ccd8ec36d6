import { parse } from 'csv-parse/sync';
import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { InputError } from '../../src/errors.js';
import { csvRows, decodeText } from '../../src/readings/csv-rows.js';
import { parseReadings } from '../../src/readings/parse-readings.js';

const bare = (text: string) => parseReadings(text, 'a.csv').readings.map(({ file: _, ...reading }) => reading);

describe('parseReadings', () => {
  const accepted: [what: string, text: string, wanted: object[]][] = [
    ['the full header', 'feature,reading_mm,outcome,resolution_mm,note\nS1,10.05,,0.01,fine\n', [{ feature: 'S1', readingMm: 10.05, resolutionMm: 0.01, note: 'fine', line: 2 }]],
    ['semicolons and decimal commas', 'feature;reading_mm\nS1;10,05\n', [{ feature: 'S1', readingMm: 10.05, line: 2 }]],
    ['tabs', 'feature\treading_mm\nS1\t10.05\n', [{ feature: 'S1', readingMm: 10.05, line: 2 }]],
    ['a quoted decimal comma between commas', 'feature,reading_mm\nS1,"10,05"\n', [{ feature: 'S1', readingMm: 10.05, line: 2 }]],
    ['byte order mark, CRLF, blank lines and comments', '\uFEFF# Film: pet\r\n\r\nfeature,reading_mm\r\n# again\r\nS1,1\r\n', [{ feature: 'S1', readingMm: 1, line: 5 }]],
    ['columns in any order and case', 'Note,Reading_mm,Feature\nx,1,S1\n', [{ feature: 'S1', readingMm: 1, note: 'x', line: 2 }]],
    ['a header with blanks for underlines', 'feature,reading mm\nS1,1\n', [{ feature: 'S1', readingMm: 1, line: 2 }]],
    ['repeated rows', 'feature,reading_mm\nS1,1\nS1,1.01\n', [{ feature: 'S1', readingMm: 1, line: 2 }, { feature: 'S1', readingMm: 1.01, line: 3 }]],
    ['an outcome alone, and one beside a reading', 'feature,reading_mm,outcome\nW1,,Gone\nO1,0.3,closed\n', [{ feature: 'W1', outcome: 'gone', line: 2 }, { feature: 'O1', readingMm: 0.3, outcome: 'closed', line: 3 }]],
    ['a quoted note over two lines with the delimiter in it', 'feature,reading_mm,note\nS1,1,"left, ""upper""\nedge"\nS2,2,\n', [{ feature: 'S1', readingMm: 1, note: 'left, "upper"\nedge', line: 2 }, { feature: 'S2', readingMm: 2, line: 4 }]],
    ['empty columns that a spreadsheet adds', 'feature,reading_mm,,\nS1,1,,\n,,,\n', [{ feature: 'S1', readingMm: 1, line: 2 }]],
    ['rows shorter than the header', 'feature,reading_mm,outcome,note\nS1,1\n', [{ feature: 'S1', readingMm: 1, line: 2 }]],
    ['a first line that names the delimiter', 'sep=;\nfeature;reading_mm\nS1;1,5\n', [{ feature: 'S1', readingMm: 1.5, line: 3 }]],
    ['a decimal comma beside a resolution that was filled in with a point', 'feature;reading_mm;resolution_mm\nS1;10,05;0.01\n', [{ feature: 'S1', readingMm: 10.05, resolutionMm: 0.01, line: 2 }]],
    ['old line ends', 'feature,reading_mm\rS1,1\r', [{ feature: 'S1', readingMm: 1, line: 2 }]],
    ['a negative reading, for the fit to judge', 'feature,reading_mm\nS1,-1\nS2,\u22122\n', [{ feature: 'S1', readingMm: -1, line: 2 }, { feature: 'S2', readingMm: -2, line: 3 }]],
  ]; // biome-ignore format: a table
  it.each(accepted)('accepts %s', (_what, text, wanted) => {
    expect(bare(text)).toEqual(wanted);
  });

  // Inch = 25.4 mm exactly, mil = 0.001 inch: international yard and pound agreement of 1959.
  const units: [typed: string, mm: number][] = [
    ['0.31', 0.31],
    ['.31', 0.31],
    ['310 um', 0.31],
    ['310µm', 0.31],
    ['12.2 mil', 0.30988],
    ['0.5 in', 12.7],
    ['0.5"', 12.7],
    ['1.2 cm', 12],
    ['3.1e-1mm', 0.31],
    ['10.05 MM', 10.05],
  ];
  it.each(units)('reads %s as %f mm', (typed, mm) => {
    expect(bare(`feature,reading_mm\nS1,${typed}\n`)[0].readingMm).toBeCloseTo(mm, 12);
  });

  it('leaves out rows that are not filled in, and names them', () => {
    const { readings, warnings } = parseReadings(
      'feature,reading_mm,outcome,resolution_mm,note\nS1,1,,,\nS2,,,0.01,measure it\nS3,,,,\n',
      'a.csv',
    );
    expect(readings).toHaveLength(1);
    const message = '2 of 3 rows are not filled in: S2, S3.';
    expect(warnings).toEqual([expect.objectContaining({ code: 'BLANK_ROWS', message })]);
  });

  const refused: [what: string, text: string, code: string, words: RegExp][] = [
    ['an empty file', ' \n', 'NO_ROWS', /nothing in this file/],
    ['a file without header', 'S1,10\nS2,11\n', 'NO_HEADER', /line 1.*expected the header/],
    ['a mistyped column', 'feature,readng_mm\nS1,1\n', 'UNKNOWN_COLUMN', /"readng_mm".*Did you mean "reading_mm"/],
    ['a column that stands twice', 'feature,reading_mm,reading_mm\nS1,1,1\n', 'REPEATED_COLUMN', /twice/],
    ['cells under no name', 'feature,reading_mm,\nS1,1,2\n', 'UNKNOWN_COLUMN', /has no name/],
    ['no feature column', 'reading_mm,note\n1,x\n', 'COLUMN_MISSING', /"feature"/],
    ['neither reading nor outcome', 'feature,note\nS1,x\n', 'COLUMN_MISSING', /"reading_mm"/],
    ['an unquoted decimal comma between commas', 'feature,reading_mm,outcome,note\nS1,10,05,,\n', 'TOO_MANY_CELLS', /line 2.*decimal comma.*semicolons/],
    ['too many cells', 'feature,reading_mm\nS1,1,abc\n', 'TOO_MANY_CELLS', /at most 2 cells, found 3/],
    ['a word for a reading', 'feature,reading_mm\nS1,about one\n', 'BAD_LENGTH', /line 2, "reading_mm".*found "about one"/],
    ['two readings in a cell', 'feature,reading_mm\nS1,10.0 10.1\n', 'BAD_LENGTH', /row of its own/],
    ['separators between thousands', 'feature;reading_mm\nS1;1.234,5\n', 'BAD_LENGTH', /thousands/],
    ['an unknown unit', 'feature,reading_mm\nS1,3 ft\n', 'BAD_LENGTH', /units: mm/],
    ['a resolution of zero', 'feature,reading_mm,resolution_mm\nS1,1,0\n', 'BAD_RESOLUTION', /length > 0/],
    ['a mistyped outcome', 'feature,outcome\nC1,throgh\n', 'UNKNOWN_OUTCOME', /Did you mean "through"/],
    ['a row without feature', 'feature,reading_mm\n,3\n', 'FEATURE_MISSING', /line 2/],
    ['a quote that is never closed', 'feature,reading_mm,note\nS1,1,"x\nS2,2,\n', 'OPEN_QUOTE', /line 2.*never closed/],
    ['points and commas mixed', 'feature;reading_mm\nS1;1,234\nS2;1.5\n', 'MIXED_DECIMALS', /line 2/],
  ]; // biome-ignore format: a table
  it.each(refused)('refuses %s', (_what, text, code, words) => {
    try {
      parseReadings(text, 'a.csv');
      expect.unreachable();
    } catch (error) {
      expect(error).toBeInstanceOf(InputError);
      expect((error as InputError).code).toBe(code);
      expect((error as InputError).message).toMatch(words);
      expect((error as InputError).message).toContain('a.csv');
    }
  });

  it('tells all problems of a file together, each with its line', () => {
    try {
      parseReadings('feature,reading_mm,outcome\nS1,x,\nS2,1,lost\n,2,\n', 'a.csv');
      expect.unreachable();
    } catch (error) {
      expect((error as InputError).problems.map(({ code, place }) => [code, place?.line])).toEqual([
        ['BAD_LENGTH', 2],
        ['UNKNOWN_OUTCOME', 3],
        ['FEATURE_MISSING', 4],
      ]);
    }
  });
});

describe('parseReadings on whatever bytes', () => {
  it('returns readings or throws an InputError', () => {
    const piece = fc.constantFrom(
      'feature',
      'reading_mm',
      'outcome',
      ',',
      ';',
      '\t',
      '"',
      '\n',
      '\r\n',
      '#',
      'S1',
      '1,5',
      '0.3 mm',
      'gone',
      ' ',
    );
    fc.assert(
      fc.property(fc.array(fc.oneof(piece, fc.string()), { maxLength: 40 }), (pieces) => {
        try {
          parseReadings(pieces.join(''), 'a.csv');
        } catch (error) {
          expect(error).toBeInstanceOf(InputError);
        }
      }),
      { numRuns: 500, seed: 5 },
    );
  });
});

describe('csvRows against csv-parse', () => {
  it('splits any text that csv-parse accepts in the same way', () => {
    const piece = fc.constantFrom('a', 'b"c', '"x,y"', '"he said ""no"""', '"two\nlines"', ',', '\n', '\r\n', '0,5');
    fc.assert(
      fc.property(fc.array(piece, { maxLength: 30 }), (pieces) => {
        const text = pieces.join('');
        let wanted: string[][];
        try {
          const record_delimiter = ['\r\n', '\n'];
          wanted = parse(text, { record_delimiter, relax_column_count: true, trim: true, skip_empty_lines: true });
        } catch {
          return;
        }
        expect(csvRows(text, ',').map(({ cells }) => cells)).toEqual(
          wanted.filter((row) => row.some((cell) => cell !== '')),
        );
      }),
      { numRuns: 300, seed: 3 },
    );
  });

  const texts = [
    'a,b,c\n1,2,3\n',
    'a;b\r\n"x;y";"he said ""no"""\r\n',
    'a,b\n"two\nlines",2\n\n3,4',
    'a\tb\n 1 \t2\n',
    'a,b\n,\n1,\n',
  ];
  it.each(texts)('splits %j in the same way', (text) => {
    const delimiter = text.includes(';') ? ';' : text.includes('\t') ? '\t' : ',';
    const wanted = (
      parse(text, { delimiter, trim: true, skip_empty_lines: true, relax_column_count: true }) as string[][]
    ).filter((row) => row.some((cell) => cell !== ''));
    expect(csvRows(text, delimiter).map(({ cells }) => cells)).toEqual(wanted);
  });
});

describe('decodeText', () => {
  const text = 'feature;note\nS1;größer µm\n';
  it.each(['PK\u0003\u0004\u0014', '\u00d0\u00cf\u0011\u00e0'])('names a workbook for what it is: %j', (start) => {
    expect(() => parseReadings(start, 'witness.xlsx')).toThrow(
      expect.objectContaining({ code: 'WRONG_FILE', message: expect.stringContaining('Save its sheet as CSV') }),
    );
  });

  it('reads UTF-8, UTF-16 with its mark, and Windows’ Latin letters', () => {
    const utf16 = new Uint8Array([
      0xff,
      0xfe,
      ...new Uint8Array(new Uint16Array([...text].map((c) => c.charCodeAt(0))).buffer),
    ]);
    const latin = Uint8Array.from([...text].map((c) => c.charCodeAt(0)));
    for (const bytes of [new TextEncoder().encode(text), utf16, latin]) expect(decodeText(bytes)).toBe(text);
  });
});

describe('what a program that measures says', () => {
  it('reads the uncertainty of a reading and the limit of its gauge', () => {
    const text =
      'feature,reading_mm,uncertainty_mm,gauge,gauge_limit_mm\nA,1.5,0.4 um,scanner,0.02\nB,2.5,0.001,scanner,0.03\n';
    const { readings, gaugeLimitsMm } = parseReadings(text, 'a.csv');
    expect(readings.map(({ uncertaintyMm }) => uncertaintyMm)).toEqual([0.0004, 0.001]);
    expect(gaugeLimitsMm).toEqual({ scanner: 0.03 });
    expect(() => parseReadings('feature,reading_mm,uncertainty_mm\nA,1.5,0\n', 'a.csv')).toThrow(
      /BAD_UNCERTAINTY|expected a length > 0/,
    );
  });
});
