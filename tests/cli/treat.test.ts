import { existsSync } from 'node:fs';
import { parse } from 'csv-parse/sync';
import { describe, expect, it } from 'vitest';
import { bench, PASTE_LAYER } from './bench.js';

const desk = bench({ 'board-paste.gbr': PASTE_LAYER });

const treat = (line: string, ...words: string[]) => desk.run(`treat ${line}`, ...words);

describe('apertrue treat', () => {
  it('shows the changes and writes nothing on a dry run', async () => {
    const { code, out } = await treat('board-paste.gbr --thickness-mm 0.1 --dry-run');
    expect(code).toBe(0);
    expect(out).toContain('thermal pads into panes: selected nothing');
    expect(out).toContain('7: other large pads into panes: 3.000 x 3.000 mm -> 4 panes, 75.0 % of the area');
    expect(out).toMatch(/8 openings became 11/);
    expect(desk.list()).toEqual(['board-paste.gbr']);
  });

  it('writes openings, changes, picture and sidecar', async () => {
    const out = 'out';
    const { code } = await treat(`board-paste.gbr -t 0.1 --rules plain --out ${out}`);
    expect(code).toBe(0);
    const endings = ['changes.csv', 'changes.json', 'job.json', 'picture.png', 'picture.svg', 'svg'];
    expect(desk.list(out)).toEqual(endings.map((ending) => `board-paste.treated.${ending}`));
    const rows = parse(desk.text('out/board-paste.treated.changes.csv'), { columns: true }) as Record<string, string>[];
    expect(new Set(rows.map((row) => row.opening))).toEqual(new Set(['1', '2', '3', '4', '5', '6', '7', '8']));
    expect(rows.find((row) => row.action === 'panes')).toMatchObject({
      opening: '7',
      pieces: '4',
      area_percent: '75.00',
    });
    const job = desk.json('out/board-paste.treated.job.json');
    expect(job.counts).toMatchObject({ before: 8, after: 11, split: 1 });
    expect(job.source.sha256).toMatch(/^[0-9a-f]{64}$/);
  });

  it('changes nothing when its own result is treated again', async () => {
    await treat(`board-paste.gbr -t 0.1 --out first`);
    const again = await treat('first/board-paste.treated.svg -t 0.1 --out second');
    expect(again.said).toMatch(/went through the rule set "plain" before/);
    expect(again.out).toMatch(/11 openings became 11 \(100.0 % of the area\): 11 treated before/);
    expect(desk.text('second/board-paste.treated.svg')).toBe(desk.text('first/board-paste.treated.svg'));
  });

  it('applies another rule set to a treated file', async () => {
    await treat(`board-paste.gbr -t 0.1 --out first`);
    const rules = {
      format: 'apertrue-rules',
      version: 1,
      name: 'no disc',
      rules: [{ name: 'drop the disc', select: { shape: 'round' }, action: { kind: 'drop' } }],
    };
    desk.put('own.json', JSON.stringify(rules));
    const { out } = await treat(`first/board-paste.treated.svg -t 0.1 --rules own.json --dry-run`);
    expect(out).toMatch(/11 openings became 10/);
  });

  it('says that openings are left which the laser may not make', async () => {
    const rules = { format: 'apertrue-rules', version: 1, name: 'nothing', rules: [] };
    const profile = {
      format: 'apertrue-profile',
      version: 1,
      name: 'invented',
      film: { thicknessMm: 0.1 },
      limits: { minOpeningMm: 0.25, minWebMm: 0.1 },
      fit: { scaleX: 1, scaleY: 1, shear: 0, kerfXMm: 0.1, kerfYMm: 0.1 },
    };
    desk.put('own.json', JSON.stringify(rules));
    desk.put('p.json', JSON.stringify(profile));
    const args = ['--rules', 'own.json', '--profile', 'p.json', '--dry-run'];
    const { code, said } = await treat('board-paste.gbr', ...args);
    expect(said).toMatch(/1 opening is left narrower than 0.25 mm/);
    expect(code).toBe(3);
  });

  it.each([
    [['-t', '0.1', '--rules', 'plian', '--dry-run'], /Did you mean "plain"/],
    [['-t', '0.1'], /where the results go.*--dry-run/],
    [['--dry-run'], /thickness of the film is not known/],
  ])('refuses %j and says why', async (args, message) => {
    const { code, said } = await treat('board-paste.gbr', ...args);
    expect(code).toBe(2);
    expect(said).toMatch(message);
    expect(existsSync('out')).toBe(false);
  });
});
