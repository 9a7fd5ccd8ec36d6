import { execFileSync, spawnSync } from 'node:child_process';
import { mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { expect, it } from 'vitest';
import { generateCoupon } from '../../src/coupon/generate.js';
import { couponOrder } from '../../src/fit/plan/plan-words.js';
import { blankReadings } from '../../src/readings/blank-readings.js';
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

it('marks of byte order that stand in the middle of a file are passed over', () => {
  const text = 'feature,reading_mm\nRA0-6,9\uFEFF0.5\n';
  const bytes = Buffer.from(`\uFEFF${text}`, 'utf16le');
  expect(parseReadings(decodeText(bytes), 'a.csv').readings).toMatchObject([{ feature: 'RA0-6', readingMm: 90.5 }]);
});

// Gnumeric's converter starts in a moment, and comes with Debian's package gnumeric.
const hasConverter = !spawnSync('ssconvert', ['--version']).error;
if (!hasConverter) console.warn('no ssconvert here: blank readings files are not saved by a spreadsheet program');

it.skipIf(!hasConverter).each(['scale-ruler', 'aperture-ladder', 'power-speed-grid', 'vernier', 'witness'])(
  'a spreadsheet program saves the readings file of %s, blank and filled in, so that it is read',
  async (name) => {
    const out = mkdtempSync(join(tmpdir(), 'sheet-'));
    const convert = (from: string, to: string, ...options: string[]): void =>
      void execFileSync('ssconvert', [...options, join(out, from), join(out, to)], { stdio: 'ignore' });
    const coupon = await generateCoupon(name, { widthMm: 120, heightMm: 90, pitchXMm: 0.0254 });
    const blank = blankReadings(coupon, couponOrder(coupon));
    const isGrid = name === 'power-speed-grid';
    const filled = blank
      .replace(/^([A-Z][\w-]*),,,/gm, isGrid ? '$1,,through,' : '$1,1.5,,')
      .replace(/^(# power .*):$/m, '$1: 45 %');
    const rows = coupon.features.features.length;
    for (const [kind, text, read] of [
      ['blank', blank, 0],
      ['filled', filled, rows],
    ] as const) {
      writeFileSync(join(out, `${kind}.csv`), text);
      convert(`${kind}.csv`, `${kind}.xlsx`);
      convert(`${kind}.xlsx`, `${kind}-comma.csv`);
      const semicolons = ['-T', 'Gnumeric_stf:stf_assistant', '-O', 'separator=; format=automatic charset=UTF-16'];
      convert(`${kind}.xlsx`, `${kind}-semi.csv`, ...semicolons);
      for (const how of ['comma', 'semi']) {
        const { readings, form } = parseReadings(
          decodeText(readFileSync(join(out, `${kind}-${how}.csv`))),
          'saved.csv',
        );
        expect([kind, how, readings.length]).toEqual([kind, how, read]);
        expect(form.powerPercent).toBe(read === 0 ? undefined : 45);
      }
    }
    rmSync(out, { recursive: true });
  },
  120_000,
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
