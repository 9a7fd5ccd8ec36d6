import { parse } from 'csv-parse/sync';
import { zipSync } from 'fflate';
import sharp from 'sharp';
import { describe, expect, it } from 'vitest';
import { DEFAULT_LIMITS } from '../../src/rules/limits.js';
import { bench, PASTE_LAYER } from './bench.js';

const desk = bench({ 'board-paste.gbr': PASTE_LAYER });

describe('apertrue check', () => {
  it('lists what will not print, worst first, with the rule and its source', async () => {
    const { code, out } = await desk.run('check board-paste.gbr --thickness-mm 0.1');
    expect(code).toBe(3);
    expect(out).toMatch(/^8 .*FAIL/m);
    for (const line of out.split('\n')) expect(line.length).toBeLessThanOrEqual(80);
    expect(out).toContain('IPC-7525 area ratio');
    expect(out.replace(/\s+/g, ' ')).toContain('row: 4 of 0.300 x 1.200 mm, pitch 0.500 mm, narrowest web 0.200 mm');
    expect(out).toContain('pair: 2 of 0.800 x 1.000 mm, pitch 1.600 mm');
    expect(out.replace(/\s+/g, ' ')).toContain('narrowest web 0.200 mm (1-4)');
    expect(out).toContain('8 openings, 12.07 mm² open: 1 fail');
    expect(out.replace(/\s+/g, ' ')).toContain('Cut plastic has rougher walls and releases worse');
  });

  it('writes every opening as CSV and JSON, and a picture', async () => {
    const out = 'out';
    const { code } = await desk.run(`check board-paste.gbr -t 4mil --boards 10 --out ${out}`);
    expect(code).toBe(3);
    const rows = parse(desk.text('out/board-paste.check.csv'), { columns: true }) as Record<string, string>[];
    expect(rows.map((row) => row.opening)).toEqual(['1', '2', '3', '4', '5', '6', '7', '8']);
    expect(rows[4]).toMatchObject({ component: 'R1', width_mm: '0.8000', height_mm: '1.0000', verdict: 'pass' });
    expect(rows[7].verdict).toBe('fail');
    const json = desk.json('out/board-paste.check.json');
    expect(json.totals.boardsPasteG).toBeCloseTo(10 * json.totals.pasteG, 9);
    expect(json.basis.thicknessMm).toBeCloseTo(0.1016, 9);
    expect(desk.text('out/board-paste.check.svg')).not.toContain('<text');
    const { width } = await sharp(`${out}/board-paste.check.png`).metadata();
    expect(width).toBeGreaterThan(800);
  });

  it('gathers openings with the same verdict in one row, and gives their reason once', async () => {
    const { out } = await desk.run('check board-paste.gbr --thickness-mm 0.2');
    expect(out).toMatch(/^1 \(4 alike\) .*FAIL +b$/m);
    expect(out).toMatch(/^ {2}b {2}4 openings \(1-4\): The area ratio/m);
    const { out: every } = await desk.run('check board-paste.gbr --thickness-mm 0.2 --all');
    expect(every.match(/^\d+ .* x .*(FAIL|pass|near)/gm)).toHaveLength(8);
  });

  it('takes several files and archives; one that is no artwork does not end the others', async () => {
    desk.put('fab.zip', zipSync({ 'board-paste.gbr': new TextEncoder().encode(desk.text('board-paste.gbr')) }));
    desk.put('notes.gbr', 'no artwork');
    const args = ['board-paste.gbr', 'fab.zip', 'notes.gbr', '-t', '0.1'];
    const { code, out, said } = await desk.run('check', ...args);
    expect(code).toBe(4);
    expect(out.match(/^8 openings/gm)).toHaveLength(2);
    expect(said).toMatch(/error: .*notes\.gbr/);
    const json = JSON.parse((await desk.run('check', ...args, '--json')).out);
    const openings = json.map((one: { totals?: { openings: number } }) => one.totals?.openings);
    expect(openings).toEqual([8, 8, undefined]);
    expect(json[2]).toMatchObject({ file: expect.stringContaining('notes.gbr'), error: { code: 'NOT_ARTWORK' } });
  });

  it('prints JSON alone when asked', async () => {
    const { out } = await desk.run('check board-paste.gbr -t 0.1 --json');
    expect(JSON.parse(out)).toMatchObject({ format: 'apertrue-check', version: 1 });
  });

  it('holds openings against an edited limits file', async () => {
    const limits = 'limits.json';
    desk.put(limits, JSON.stringify({ ...DEFAULT_LIMITS, areaRatio: { value: 0.4, source: 'own trials' } }));
    const { code, out } = await desk.run(`check board-paste.gbr -t 0.1 --paste type5 --limits ${limits}`);
    expect(out).toContain(' 0 fail');
    expect(code).toBe(0);
  });

  it.each([
    [[], /thickness of the film is not known.*--thickness-mm/],
    [['-t', '0.1', '--paste', 'tpye4'], /"tpye4".*Did you mean "type4"/],
    [['-t', '0'], /Expected a length > 0/],
    [['-t', '0.1', '--limits', 'no-such.json'], /no-such.json.*no such file/],
  ])('refuses %j and says why', async (args, message) => {
    const { code, said } = await desk.run('check board-paste.gbr', ...args);
    expect(code).toBe(2);
    expect(said).toMatch(message);
  });

  it('replaces no files unless told', async () => {
    const args = ['check', 'board-paste.gbr', '-t', '0.1', '--out', '.'];
    expect((await desk.run(...args)).code).toBe(3);
    expect((await desk.run(...args)).said).toMatch(/exists already.*--overwrite/);
    expect((await desk.run(...args, '--overwrite')).code).toBe(3);
  });
});
