import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { type Drilled, readDrill } from '../../../src/artwork/drill/read-drill.js';
import { InputError } from '../../../src/errors.js';

const read = (text: string): Promise<Drilled> => readDrill(new TextEncoder().encode(text), { name: 'board.drl' });
const places = ({ holes }: Drilled): string[] =>
  holes.map(({ x, y, slotTo }) => [x, y, ...(slotTo ?? [])].map((v) => Number(v.toFixed(4))).join(' '));
const codes = ({ warnings }: Drilled): string[] => warnings.map((w) => w.code);

/** Formats as drill machines and XNC know them: common practice of the Excellon format; no published table. */
describe('numbers', () => {
  it.each([
    ['decimal points', 'METRIC\nT1C0.8\n%\nT1\nX10.5Y-2.25', '10.5 -2.25'],
    ['inch with leading zeros left out', 'INCH,TZ,00.0000\nT1C0.0315\n%\nT1\nX10000Y-500', '25.4 -1.27'],
    ['inch with trailing zeros left out', 'INCH,LZ,00.0000\nT1C0.0315\n%\nT1\nX01Y-0005', '25.4 -1.27'],
    ['metric 3.3', 'METRIC,TZ,000.000\nT1C0.8\n%\nT1\nX10500Y2250', '10.5 2.25'],
    ['metric 3.2 with trailing zeros left out', 'METRIC,LZ,000.00\nT1C0.8\n%\nT1\nX0105Y00225', '10.5 2.25'],
    ['digits in a comment', ';FILE_FORMAT=2:4\nINCH,TZ\nT1C0.0315\n%\nT1\nX10000Y20000', '25.4 50.8'],
    [
      'everything in a comment',
      '; FORMAT={4:4/ absolute / metric / suppress leading zeros}\nT1C0.8\n%\nT1\nX105000Y22500',
      '10.5 2.25',
    ],
    [
      'whole millimetres where a comment says decimal',
      '; FORMAT={-:-/ absolute / metric / decimal}\nMETRIC\nT1C0.8\n%\nT1\nX10Y2.25',
      '10 2.25',
    ],
    ['the unit as M71', 'T1C0.8\n%\nM71\nT1\nX10.5Y2.25', '10.5 2.25'],
    ['spaces, small letters and CRLF', 'METRIC,TZ,000.000\r\nt1 c0.8\r\n%\r\nt1\r\nx10500 y2250', '10.5 2.25'],
  ])('%s', async (_name, text, expected) => {
    const drilled = await read(`M48\n${text}\nM30\n`);
    expect(places(drilled)).toEqual([expected]);
    expect(drilled.holes[0].diameterMm).toBeCloseTo(0.8, 3);
    expect(drilled.warnings).toEqual([]);
  });

  it.each([
    ['METRIC,TZ,000.000', 'X0001234567Y1', ['DIGITS_TOO_MANY']],
    ['METRIC,TZ,000.000', 'X0000234567Y1', []],
    ['METRIC,LZ,000.000', 'X0012345Y001', ['DIGITS_TOO_MANY']],
    ['METRIC,LZ,000.000', 'X00123400000Y001', []],
    ['METRIC,TZ,000.000', 'X1234.567Y1', []],
  ])('says of %s and %s whether there are more digits than places', async (header, hit, expected) => {
    expect(codes(await read(`M48\n${header}\nT1C0.8\n%\nT1\n${hit}\nM30\n`))).toEqual(expected);
  });

  it.each([
    ['T1C0.8\nT1C1.2\n%\nT1', ['DEFINED_AGAIN'], 1.2],
    ['T1C0.8\nT1C0.80\n%\nT1', [], 0.8],
    [';Holesize 1. = 31.5 PLATED MILS\nT1C0.8\n%\nT1', [], 0.8],
    ['T1C0.8\n%\nT1C1.2', ['DEFINED_AGAIN'], 1.2],
  ])('a tool of two diameters is told of: %j', async (text, expected, diameterMm) => {
    const drilled = await read(`M48\nMETRIC\n${text}\nX1.0Y1.0\nM30\n`);
    expect(codes(drilled)).toEqual(expected);
    expect(drilled.holes[0].diameterMm).toBeCloseTo(diameterMm, 6);
  });

  it('says which digits it took when the file states none', async () => {
    const drilled = await read('M48\nMETRIC,TZ\nT1C0.8\n%\nT1\nX10500Y2250\nM30\n');
    expect(places(drilled)).toEqual(['10.5 2.25']);
    expect(codes(drilled)).toEqual(['DRILL_FORMAT']);
  });

  it.each([
    ['leading zeros that are there', 'X0105Y00225\nX02Y003', ['10.5 2.25', '20 3'], 'trailing'],
    ['trailing zeros that are there', 'X10500Y2250\nX300Y1500', ['10.5 2.25', '0.3 1.5'], 'leading'],
  ])('tells which zeros are left out from %s, and says so', async (_name, body, expected, left) => {
    const drilled = await read(`M48\nMETRIC,000.000\nT1C0.8\n%\nT1\n${body}\nM30\n`);
    expect(places(drilled)).toEqual(expected);
    expect(codes(drilled)).toEqual(['DRILL_ZEROS']);
    expect(drilled.warnings[0].message).toContain(`${left} zeros left out`);
  });

  it('refuses to guess when both ways of leaving zeros out make sense', async () => {
    await expect(read('M48\nMETRIC,000.000\nT1C0.8\n%\nT1\nX10501Y2251\nM30\n')).rejects.toMatchObject({
      code: 'DRILL_ZEROS',
    });
  });

  it('takes the unit from the tools only when one unit makes them drills', async () => {
    const inch = await read('M48\nT1C0.0315\nT2C0.125\n%\nT1\nX1.0Y1.0\nM30\n');
    expect(places(inch)).toEqual(['25.4 25.4']);
    expect(codes(inch)).toEqual(['UNIT_ASSUMED']);
    const metric = await read('M48\nT1C0.8\nT2C3.2\n%\nT1\nX1.0Y1.0\nM30\n');
    expect(places(metric)).toEqual(['1 1']);
    await expect(read('M48\nT1C0.2\n%\nT1\nX1.0Y1.0\nM30\n')).rejects.toMatchObject({ code: 'DRILL_UNIT' });
  });
});

describe('commands', () => {
  const program = (body: string): Promise<Drilled> =>
    read(`M48\nMETRIC,TZ\nT1C0.8\nT2C1.5\n%\nG05\nT1\n${body}\nM30\n`);

  it.each([
    ['coordinates that stay the same', 'X1.0Y2.0\nX3.0\nY5.0', ['1 2', '3 2', '3 5']],
    ['incremental steps', 'G91\nX1.0Y2.0\nX1.0\nG90\nX1.0Y1.0', ['1 2', '2 2', '1 1']],
    ['ICI', 'ICI,ON\nX1.0Y2.0\nX1.0\nICI,OFF\nX9.0', ['1 2', '2 2', '9 2']],
    ['a repeat', 'X1.0Y2.0\nR3X2.0', ['1 2', '3 2', '5 2', '7 2']],
    ['a slot', 'X1.0Y2.0G85X4.0Y2.0\nX9.0', ['1 2 4 2', '9 2']],
    ['a routed slot', 'G00X1.0Y1.0\nM15\nG01X5.0Y1.0\nY3.0\nM16\nG05\nX9.0Y9.0', ['1 1 5 1', '5 1 5 3', '9 9']],
    ['a pattern', 'M25\nX1.0Y1.0\nX2.0\nM01\nM02X10.0\nM02Y5.0\nM08', ['1 1', '2 1', '11 1', '12 1', '11 6', '12 6']],
  ])('%s', async (_name, body, expected) => {
    const drilled = await program(body);
    expect(places(drilled)).toEqual(expected);
    expect(drilled.warnings).toEqual([]);
  });

  it.each([
    ['by its centre', 'G03X0.0Y5.0I-5.0J0.0'],
    ['by its radius', 'G03X0.0Y5.0A5.0'],
  ])('a routed arc %s becomes slots along the circle', async (_name, arc) => {
    const { holes } = await program(`G00X5.0Y0.0\nM15\n${arc}\nM16`);
    expect(holes.length).toBeGreaterThan(10);
    expect(holes.length).toBeLessThan(100);
    for (const { x, y } of holes) expect(Math.hypot(x, y)).toBeCloseTo(5, 3);
    expect(holes.every(({ x, y }) => x >= -1e-9 && y >= -1e-9)).toBe(true);
    expect(holes.at(-1)?.slotTo?.[1]).toBeCloseTo(5, 6);
  });

  it('changes tools, also with an offset number, and within the body', async () => {
    const { holes } = await program('X1.0Y1.0\nT0202\nX2.0\nT3C2.5\nX3.0');
    expect(holes.map((h) => h.diameterMm)).toEqual([0.8, 1.5, 2.5]);
  });

  it('takes sizes from a table of tools in comments', async () => {
    const table = await read(
      'M48\n;   Holesize 1. = 40.0 Tolerance = +0.0/-0.0 PLATED MILS Quantity = 2\nINCH,TZ\n%\nT01\nX1.0Y1.0\nM30\n',
    );
    expect(table.holes[0].diameterMm).toBeCloseTo(1.016, 9);
  });

  it.each(['G41', 'G42'])(
    'a router that runs beside its path (%s) cuts elsewhere than is read, and is told of',
    async (side) => {
      const drilled = await program(`G00X1.0Y1.0\n${side}\nM15\nG01X5.0\nM16\nG40\nG05`);
      expect(codes(drilled)).toEqual(['UNKNOWN_COMMAND']);
    },
  );

  it('names what it does not know with its line', async () => {
    const drilled = await program('X1.0Y1.0\nQ17\nX2.0');
    expect(codes(drilled)).toEqual(['UNKNOWN_COMMAND']);
    expect(drilled.warnings[0].place?.line).toBe(9);
    expect(drilled.holes).toHaveLength(2);
  });
});

describe('refusals', () => {
  it.each([
    ['a tool that is not defined', 'M48\nMETRIC\nT1C0.8\n%\nT9\nX1.0Y1.0\nM30', 'TOOL_UNDEFINED'],
    ['a hole before any tool', 'M48\nMETRIC\nT1C0.8\n%\nX1.0Y1.0\nM30', 'TOOL_UNDEFINED'],
    ['no holes', 'M48\nMETRIC\nT1C0.8\n%\nM30', 'NO_HOLES'],
    ['a number that is none', 'M48\nMETRIC\nT1C0.8\n%\nT1\nX1..5Y1.0\nM30', 'DRILL_NUMBER'],
    ['a diameter with a power of ten', 'M48\nMETRIC\nT1C1e9\n%\nT1\nX1.0Y1.0\nM30', 'DRILL_NUMBER'],
    ['a place with a power of ten', 'M48\nMETRIC\nT1C0.8\n%\nT1\nX1.0E3Y1.0\nM30', 'DRILL_NUMBER'],
    [
      'steps that add up beyond every machine',
      `M48\nMETRIC\nT1C0.8\n%\nT1\nG91\n${'X9000.0Y0\n'.repeat(2000)}M30`,
      'DRILL_NUMBER',
    ],
    ['repeats that add up likewise', 'M48\nMETRIC\nT1C0.8\n%\nT1\nX1.0Y1.0\nR5000X9000.0\nM30', 'DRILL_NUMBER'],
    ['a repeat without end', 'M48\nMETRIC\nT1C0.8\n%\nT1\nX1.0Y1.0\nR9999999X1.0\nM30', 'TOO_MUCH'],
    ['a Gerber layer', '%FSLAX46Y46*%\n%MOMM*%\nM02*', 'NOT_A_DRILL_FILE'],
    ['an empty file', '', 'NOT_A_DRILL_FILE'],
  ])('%s', async (_name, text, code) => {
    const error = await read(text).catch((e: unknown) => e);
    expect(error).toBeInstanceOf(InputError);
    expect((error as InputError).code).toBe(code);
  });

  it('a missing end is a warning', async () => {
    expect(codes(await read('M48\nMETRIC\nT1C0.8\n%\nT1\nX1.0Y1.0\n'))).toEqual(['END_MISSING']);
    // What is left of M02, a repeat, was taken for M00, the end.
    const repeated = 'M48\nMETRIC\nT1C0.8\n%\nT1\nM25\nX1.0Y1.0\nM01\nM02X1.0';
    expect(codes(await read(repeated.slice(0, -5)))).toEqual(['UNKNOWN_COMMAND', 'END_MISSING']);
  });

  it('files with changed bytes end in holes or in an InputError', async () => {
    const good =
      'M48\nMETRIC,TZ,000.000\n;TYPE=PLATED\nT1C0.8\nT2C1.5\n%\nG05\nT1\nX1000Y2000\nX3000G85X5000\nR5X1000\nM25\nX1Y1\nM01\nM02X1000\nM08\nT2\nG00X1000Y1000\nM15\nG03X2000Y2000A1000\nM16\nM30\n';
    await fc.assert(
      fc.asyncProperty(
        fc.array(fc.tuple(fc.nat(good.length - 1), fc.integer({ min: 10, max: 126 })), { minLength: 1, maxLength: 8 }),
        async (edits) => {
          let text = good;
          for (const [at, byte] of edits) text = text.slice(0, at) + String.fromCharCode(byte) + text.slice(at + 1);
          const result = await read(text).catch((error: unknown) => error);
          if (result instanceof InputError) return;
          expect(result).not.toBeInstanceOf(Error);
          for (const { x, y, diameterMm } of (result as Drilled).holes)
            expect(Number.isFinite(x + y + diameterMm)).toBe(true);
        },
      ),
      { numRuns: 1000 },
    );
  });
});
