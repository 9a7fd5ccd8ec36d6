import { spawn } from 'node:child_process';
import { linkSync, mkdirSync, readFileSync, rmSync, symlinkSync, utimesSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { beforeEach, describe, expect, it } from 'vitest';
import { processIo } from '../../src/cli/io.js';
import { sha256 } from '../../src/cli/results.js';
import { temporaryFor } from '../../src/cli/write-together.js';
import { type Bench, bench, featuresOf, layer, profileOf } from './bench.js';

const desk = bench({ 'laser.json': profileOf(), 'board.gbr': layer() });

/** Makes a link, and gives its name. */
function linked(to: string, name: string, link: (to: string, name: string) => void): string {
  link(join(desk.folder, to), name);
  return name;
}

const onPosix = it.skipIf(process.platform === 'win32');

describe('no result replaces what it is made from, whatever it is called', () => {
  const span = { id: 'S1', kind: 'span', from: [0, 0], to: [10, 0], nominalMm: 10, say: 'measure' };
  beforeEach(() => {
    desk.put('one.features.json', featuresOf([span], 'one'));
    desk.put('one.readings.csv', 'feature,reading_mm\nS1,10.02\n');
  });

  onPosix.each([
    ['its readings', 'one.readings.csv', (_d: Bench) => 'one.readings.csv'],
    ['its features', 'one.features.json', (_d: Bench) => 'one.features.json'],
    ['a path with turns in it', 'one.readings.csv', (_d: Bench) => 'sub/../one.readings.csv'],
    ['a symbolic link to its readings', 'one.readings.csv', () => linked('one.readings.csv', 'soft.json', symlinkSync)],
    ['a second name of its features', 'one.features.json', () => linked('one.features.json', 'hard.json', linkSync)],
    ['a folder that is a link', 'one.readings.csv', () => `${linked('.', 'sub/link', symlinkSync)}/one.readings.csv`],
  ])('fit --out: %s', async (_, kept, target) => {
    mkdirSync('sub');
    const out = target(desk);
    const before = desk.read(kept);
    const { code, said } = await desk.run(`fit one.readings.csv --out ${out} --overwrite`);
    expect([code, said]).toEqual([2, expect.stringContaining('made from')]);
    expect(desk.read(kept)).toEqual(before);
  });

  onPosix.each([
    ['correct', 'board.png', ['--profile', 'laser.json', '--dpi', '1000', '--polarity', 'dark']],
    ['treat', 'board.treated.svg', ['--thickness-mm', '0.1']],
    ['predict', 'board.predict.svg', ['--profile', 'laser.json']],
    ['check', 'board.check.svg', ['--thickness-mm', '0.1']],
    ['layout', 'board.sheet.svg', ['--profile', 'laser.json', '--format', 'svg']],
  ])('%s, where a link beside it has the name of a result', async (command, result, options) => {
    mkdirSync('out');
    const input = command === 'correct' ? 'laser.json' : 'board.gbr';
    symlinkSync(join('..', input), `out/${result}`);
    const args = options.filter((_, i) => command !== 'correct' || i < 2);
    const before = desk.read(input);
    const { code, said } = await desk.run(`${command} board.gbr`, ...args, '--out', 'out', '--overwrite');
    expect([code, said]).toEqual([2, expect.stringContaining('both names are one file')]);
    expect(desk.list('out')).toEqual([result]);
    expect(desk.read(input)).toEqual(before);
  });

  it('a device is not put away', async () => {
    const { code } = await desk.run('fit one.readings.csv --out /dev/null --overwrite');
    expect(code).toBe(2);
  });
});

describe('files that belong together', () => {
  const files = (content: string) =>
    ['a.png', 'a.svg', 'a.job.json'].map((name) => ({ path: `out/${name}`, bytes: content }));

  it('are all there or none is, when one has no room', async () => {
    mkdirSync('out');
    // A name that is too long fails as late as a full disk does: when it is written.
    const last = { path: `out/${'n'.repeat(250)}`, bytes: 'x' };
    await expect(processIo().writeFiles([...files('x'), last], { overwrite: false })).rejects.toMatchObject({
      code: 'FILE_NOT_WRITTEN',
    });
    expect(desk.list('out')).toEqual([]);
  });

  it('stay as they were when one can not be put in its place', async () => {
    await processIo().writeFiles(files('old'), { overwrite: false });
    const more = [{ path: 'out/new.png', bytes: 'new' }, ...files('new')];
    const late = { path: 'out/folder', bytes: 'x' };
    const write = processIo().writeFiles([...more, late], { overwrite: true });
    // It becomes a folder after it was looked at, as another program might make it.
    mkdirSync('out/folder');
    writeFileSync('out/folder/in-it', '');
    await expect(write).rejects.toMatchObject({ code: 'FILE_NOT_WRITTEN' });
    expect(desk.list('out')).toEqual(['a.job.json', 'a.png', 'a.svg', 'folder']);
    for (const { path } of files('')) expect(readFileSync(path, 'utf8')).toBe('old');
  });

  it('of two programs at once are all of the one or all of the other', async () => {
    const source = (name: string): string => fileURLToPath(new URL(`../../src/cli/${name}`, import.meta.url));
    // Each writes an image and the record of it, again and again, as fast as it can.
    desk.put(
      'writer.mts',
      `import { processIo } from ${JSON.stringify(source('io.ts'))};
      const [, , folder, mark] = process.argv;
      const files = ['a.png', 'a.svg', 'a.job.json'].map((name) => ({ path: folder + '/' + name, bytes: mark }));
      process.stdout.write('ready');
      for (let i = 0; i < 60; i += 1) await processIo().writeFiles(files, { overwrite: true });`,
    );
    const tsx = import.meta.resolve('tsx');
    const ends = ['one', 'two'].map((mark) => {
      const args = ['--import', tsx, 'writer.mts', 'out', mark];
      return new Promise((resolve) => spawn(process.execPath, args, { stdio: 'ignore' }).on('exit', resolve));
    });
    let done = false;
    const ended = Promise.all(ends).then((codes) => {
      done = true;
      return codes;
    });
    let looks = 0;
    while (!done) {
      await new Promise((resolve) => setTimeout(resolve, 2));
      // What stands while nobody is putting files in place is one run's.
      const first = standing();
      if (first && JSON.stringify(standing()) === JSON.stringify(first) && !first.includes('claim')) {
        looks += 1;
        expect(new Set(first).size).toBe(1);
      }
    }
    expect(await ended).toEqual([0, 0]);
    expect(looks).toBeGreaterThan(0);
    expect(desk.list('out')).toEqual(['a.job.json', 'a.png', 'a.svg']);
    expect(new Set(standing()).size).toBe(1);
  });

  /** What the files hold; "claim" among it while a run puts its files in place. */
  function standing(): string[] | undefined {
    try {
      const claimed = () => (desk.list('out').includes('.apertrue-claim') ? ['claim'] : []);
      const before = claimed();
      const held = ['a.png', 'a.svg', 'a.job.json'].map((name) => desk.text(`out/${name}`));
      return [...before, ...held, ...claimed()];
    } catch {
      return undefined;
    }
  }

  it('a second run without --overwrite is refused when the first comes in between', async () => {
    const both = await Promise.allSettled([
      processIo().writeFiles(files('one'), { overwrite: false }),
      processIo().writeFiles(files('two'), { overwrite: false }),
    ]);
    expect(both.map(({ status }) => status).sort()).toEqual(['fulfilled', 'rejected']);
    expect(new Set(files('').map(({ path }) => readFileSync(path, 'utf8'))).size).toBe(1);
  });

  it('a claim that a killed run left is taken over', async () => {
    mkdirSync('out');
    desk.put('out/.apertrue-claim', 'deadbeef-1');
    utimesSync('out/.apertrue-claim', 1, 1);
    await processIo().writeFiles(files('x'), { overwrite: false });
    expect(desk.list('out')).toEqual(['a.job.json', 'a.png', 'a.svg']);
  });

  it('the record names the very image beside it', async () => {
    await desk.run('correct board.gbr --profile laser.json --out out');
    const job = desk.json('out/board.job.json') as {
      outputs: { name: string; sha256: string }[];
    };
    for (const { name, sha256: digest } of job.outputs) expect(sha256(desk.read(`out/${name}`))).toBe(digest);
  });
});

describe('what a killed run has left', () => {
  it('is cleared by the next, and told; what may be another computer’s is named when it is old', async () => {
    mkdirSync('killed');
    const ours = temporaryFor('killed/board.png');
    const theirs = 'killed/board.png.0badcafe-7-1.part';
    const fresh = 'killed/board.png.0badcafe-7-2.part';
    for (const path of [ours, theirs, fresh]) writeFileSync(path, 'half');
    desk.put('killed/somebody.part', 'not ours');
    utimesSync(theirs, 1, 1);
    const { code, said } = await desk.run('correct board.gbr --profile laser.json --out killed');
    expect(code).toBe(0);
    expect(said).toContain(`note: ${ours}: removed`);
    expect(said).toContain(`note: ${theirs}: half written by another run`);
    expect(said).not.toContain(fresh);
    expect(desk.list('killed').filter((name) => name.endsWith('.part'))).toEqual([
      'board.png.0badcafe-7-1.part',
      'board.png.0badcafe-7-2.part',
      'somebody.part',
    ]);
    rmSync(theirs);
  });
});

describe('readings that were filled in', () => {
  it('are not replaced by layout, not even when told to overwrite', async () => {
    const to = ['--profile', 'laser.json', '--out', 'out', '--format', 'svg'];
    const args = ['board.gbr', ...to];
    expect([0, 3]).toContain((await desk.run('layout', ...args)).code);
    expect([0, 3]).toContain((await desk.run('layout', ...args, '--overwrite')).code);
    const blank = desk.text('out/board.witness.readings.csv');
    const filled = blank.replace(/^([A-Z]+\d+),,/m, '$1,10.01,');
    expect(filled).not.toBe(blank);
    desk.put('out/board.witness.readings.csv', filled);
    expect([0, 3]).toContain((await desk.run('layout', ...args, '--overwrite')).code);
    expect(desk.text('out/board.witness.readings.csv')).toBe(filled);
    expect(desk.text('out/board.witness-2.readings.csv')).toBe(blank);
  });
});
