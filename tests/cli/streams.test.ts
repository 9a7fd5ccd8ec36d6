import { spawnSync } from 'node:child_process';
import { closeSync, existsSync, openSync, rmSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import { beforeEach, describe, expect, it } from 'vitest';
import { bench, featuresOf, layer, profileOf } from './bench.js';

const desk = bench();
beforeEach(() => {
  desk.put('laser.json', profileOf());
  desk.put(
    'slow.json',
    profileOf({ kerfXMm: 0.144, kerfYMm: 0.123 }, { settings: { powerPercent: 60, speedMmS: 90, passes: 2 } }),
  );
  desk.put(
    'fast.json',
    profileOf({ kerfXMm: 0.1, kerfYMm: 0.08 }, { settings: { powerPercent: 30, speedMmS: 90, passes: 2 } }),
  );
  desk.put('board.gbr', layer());
  const cells = [10, 20, 30, 40].flatMap((powerPercent, row) =>
    [50, 100, 200].map((speedMmS, column) => ({
      id: `P${powerPercent}S${speedMmS}`,
      kind: 'cell',
      powerPercent,
      speedMmS,
      box: [column * 10, row * 10, column * 10 + 5, row * 10 + 5],
      say: 'look',
    })),
  );
  desk.put('grid.features.json', featuresOf(cells, 'grid'));
  const outcome = (p: number, s: number): string => (p / s < 0.15 ? 'uncut' : p / s > 0.5 ? 'marked' : 'through');
  const rows = cells.map(({ id, powerPercent, speedMmS }) => `${id},${outcome(powerPercent, speedMmS)}`);
  desk.put('grid.readings.csv', ['feature,outcome', ...rows].join('\n'));
});

const PROGRAM = fileURLToPath(new URL('../../bin/apertrue.js', import.meta.url));

it.skipIf(!existsSync('/dev/full') || !existsSync(fileURLToPath(new URL('../../dist/main.js', import.meta.url))))(
  'words that can’t be printed end in a sentence and 2, not in a stack trace',
  () => {
    const full = openSync('/dev/full', 'w');
    const { status, stderr } = spawnSync(process.execPath, [PROGRAM, 'check', 'board.gbr', '-t', '0.1'], {
      stdio: ['ignore', full, 'pipe'],
      encoding: 'utf8',
    });
    closeSync(full);
    expect(status).toBe(2);
    expect(stderr).toContain('error: what there is to say can’t be written');
    expect(stderr).not.toMatch(/^\s+at /m);
  },
);

const COMMANDS: Readonly<Record<string, string>> = {
  coupon: 'witness --width-mm 60 --height-mm 50 --pitch-mm 0.05 --out out',
  window: 'grid.readings.csv --out out',
  spot: 'laser.json slow.json fast.json --out out',
  control: 'laser.json slow.json',
  check: 'board.gbr --thickness-mm 0.1 --out out',
  treat: 'board.gbr --thickness-mm 0.1 --out out',
  correct: 'board.gbr --profile laser.json --out out',
  layout: 'board.gbr --profile laser.json --out out --format svg',
  predict: 'board.gbr --profile laser.json --out out',
};

/** The file that each command writes last; `control` writes none without being asked. */
const LAST: Readonly<Record<string, string>> = {
  predict: 'board.predict.csv',
  check: 'board.check.png',
  treat: 'board.treated.job.json',
  correct: 'board.job.json',
  layout: 'board.sheet.job.json',
  window: 'grid.window.png',
  spot: 'spot-y.png',
  coupon: 'witness.job.json',
};

describe('the report goes to stdout and everything else to stderr', () => {
  it.each(Object.keys(COMMANDS))(
    '%s, and results in its way are refused before the first is written',
    async (command) => {
      const words = await desk.run(`${command} ${COMMANDS[command]}`);
      expect([0, 3]).toContain(words.code);
      expect(words.out.length).toBeGreaterThan(60);
      expect(words.out).not.toMatch(/^ *(wrote |(warning|caution|note|error):)/m);
      for (const line of words.said.trim().split('\n').filter(Boolean)) {
        expect(line).toMatch(/^(wrote|warning:|caution:|note:|next:) ?/);
      }
      const json = await desk.run(
        `${command} ${COMMANDS[command]} --json ${command === 'control' ? '' : '--overwrite'}`,
      );
      expect(json.code).toBe(words.code);
      expect(() => JSON.parse(json.out)).not.toThrow();
      expect(json.said).toBe(words.said);

      if (command === 'control') return;
      const all = desk.list('out');
      expect(all).toContain(LAST[command]);
      for (const name of all) if (name !== LAST[command]) rmSync(`out/${name}`);
      const again = await desk.run(`${command} ${COMMANDS[command]}`);
      expect([again.code, again.said]).toEqual([2, expect.stringContaining('the file exists already')]);
      expect(desk.list('out')).toEqual([LAST[command]]);
    },
  );

  it('window refuses to leave out a cell that is not there', async () => {
    const { code, said } = await desk.run('window grid.readings.csv --drop P10S51');
    expect([code, said]).toEqual([2, expect.stringContaining('Did you mean "P10S50"')]);
  });

  it('coupon --list --json', async () => {
    const { code, out, said } = await desk.run('coupon --list --json');
    expect([code, said]).toEqual([0, '']);
    expect(JSON.parse(out)).toContainEqual({ name: 'scale-ruler', title: expect.stringMatching(/./) });
  });
});

describe('a slip that spoils every row', () => {
  it('is told twenty times and then counted', async () => {
    const readings = Array.from({ length: 60 }, (_, i) => ({ session: 2, feature: `A${i}`, readingMm: 1 }));
    desk.put('laser.json', profileOf({}, { readings }));
    const { code, said } = await desk.run('control laser.json slow.json');
    expect(code).toBe(2);
    const lines = said.trim().split('\n');
    expect(lines).toHaveLength(21);
    expect(lines[20]).toMatch(/^error: .*laser\.json: 40 more problems like the last of these\.$/);
  });
});
