import { execFileSync } from 'node:child_process';
import { mkdtempSync, readFileSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { expect, it } from 'vitest';
import { decodeText } from '../../src/readings/csv-rows.js';
import { parseReadings } from '../../src/readings/parse-readings.js';

/*
 * The files beside this test come out of LibreOffice Calc 7.4.7.2, run once by
 * `soffice --headless --convert-to`: a blank readings file, filled in (typed.*), saved as a workbook and then as CSV
 * with comma, with semicolon, and as UTF-16 with tabs (comma.*, semi.*, tab16.*); and opened with the semicolon as the
 * expected delimiter, so that each row stood in the first column and the readings were typed beside it (fold-*).
 */
const folder = new URL('./spreadsheet/', import.meta.url);
const read = (name: string) => parseReadings(decodeText(readFileSync(new URL(name, folder))), name);
const bare = (name: string) =>
  read(name).readings.map(({ file: _file, line: _line, note, ...reading }) => ({
    ...reading,
    hasNote: note !== undefined,
  }));

const FORM = {
  film: 'PET',
  thicknessMm: 0.1,
  powerPercent: 45,
  speedMmS: 100,
  passes: 2,
  date: '2031-04-09',
  gauge: 'caliper',
  resolutionMm: 0.01,
};

it.each(['typed', 'comma', 'semi', 'tab16', 'fold-semi', 'fold-comma'])(
  'cells saved by a spreadsheet as %s are read',
  (how) => {
    const readings = bare(`${how}.power-speed-grid.csv`);
    expect(readings).toHaveLength(15);
    expect(readings.map(({ outcome }) => outcome)).toEqual(
      Array.from({ length: 15 }, (_, k) => ['through', 'uncut', 'marked'][k % 3]),
    );
    expect(readings.every(({ hasNote, readingMm }) => hasNote && readingMm === undefined)).toBe(true);
    expect(read(`${how}.power-speed-grid.csv`).form).toEqual(FORM);
  },
);

it.each(['typed', 'comma', 'semi', 'tab16', 'fold-semi', 'fold-comma'])(
  'numbers saved by a spreadsheet as %s are read',
  (how) => {
    expect(bare(`${how}.vernier.csv`).map(({ readingMm }) => readingMm)).toEqual([0.5, 1.5, 2.5, 3.5]);
    expect(read(`${how}.vernier.csv`).form).toEqual(FORM);
  },
);

// Starting a spreadsheet program takes many seconds: name it to have the round trip done afresh.
const program = process.env.SPREADSHEET_PROGRAM;
it.skipIf(!program)(
  'a real spreadsheet program saves a filled-in file so that it is read (SPREADSHEET_PROGRAM=soffice)',
  () => {
    const out = mkdtempSync(join(tmpdir(), 'sheet-'));
    const run = (...args: string[]) =>
      execFileSync(program ?? '', ['--headless', '--outdir', out, ...args], { stdio: 'ignore' });
    const typed = new URL('typed.power-speed-grid.csv', folder).pathname;
    run('--convert-to', 'xlsx', typed);
    run('--convert-to', 'csv:Text - txt - csv (StarCalc):59,34,65535,1', join(out, 'typed.power-speed-grid.xlsx'));
    const saved = parseReadings(decodeText(readFileSync(join(out, 'typed.power-speed-grid.csv'))), 'saved.csv');
    expect(saved.readings).toHaveLength(15);
    expect(saved.form).toEqual(FORM);
    rmSync(out, { recursive: true });
  },
  120_000,
);
