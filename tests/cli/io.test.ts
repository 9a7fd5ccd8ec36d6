import { chmodSync, existsSync, mkdirSync } from 'node:fs';
import { describe, expect, it } from 'vitest';
import { processIo } from '../../src/cli/io.js';
import { InputError } from '../../src/errors.js';
import { bench } from './bench.js';

const desk = bench();

async function messageOf(promise: Promise<unknown>): Promise<string> {
  const error = await promise.then(
    () => undefined,
    (reason: unknown) => reason,
  );
  expect(error).toBeInstanceOf(InputError);
  return (error as InputError).message;
}
const write = (path: string): Promise<readonly string[]> =>
  processIo().writeFiles([{ path, bytes: 'x' }], { overwrite: true });

describe('files that cannot be read or written', () => {
  it.each([
    ['none.gbr', /there is no such file/],
    ['folder', /it is a folder\. Name a file in it/],
    ['file/inside', /a part of its path is a file, not a folder/],
    ['n'.repeat(300), /its name is too long/],
    ['a\0b', /its name holds signs that no disk allows/],
  ])('reading %j says so in words', async (name, words) => {
    mkdirSync('folder');
    desk.put('file', '');
    const message = await messageOf(processIo().readFile(name));
    expect(message).toMatch(words);
    expect(message).not.toMatch(/E[A-Z]{4,}|errno|syscall/);
  });

  it.each([
    ['folder', /it is a folder/],
    ['file/inside/x.png', /a part of its path is a file/],
    [`${'n'.repeat(300)}/x.png`, /its name is too long/],
    [`folder/${'n'.repeat(250)}.png`, /its name is too long/],
  ])('writing %j says so in words, and leaves nothing', async (name, words) => {
    mkdirSync('folder');
    desk.put('file', '');
    const message = await messageOf(write(name));
    expect(message).toMatch(words);
    expect(message).not.toMatch(/E[A-Z]{4,}|errno|syscall/);
    expect(desk.list('folder')).toEqual([]);
  });

  it.runIf(existsSync('/proc/self'))(
    'a folder that the system will not make ends in an error, not in waiting',
    async () => {
      expect(await messageOf(write('/proc/none/deeper/x.png'))).toMatch(/no folder can be made there/);
    },
  );

  it.skipIf(process.platform === 'win32' || process.getuid?.() === 0)(
    'a folder that may not be written to',
    async () => {
      mkdirSync('folder');
      chmodSync('folder', 0o500);
      expect(await messageOf(write('folder/x.png'))).toMatch(/no permission/);
    },
  );

  it('folders on the way are made, also by two writers at once', async () => {
    await Promise.all(['a', 'b', 'c'].map((name) => write(`new/deep/${name}`)));
    expect(desk.list('new/deep')).toEqual(['a', 'b', 'c']);
  });
});

describe('a terminal that does not know how wide it is', () => {
  it.each([0, undefined])('and says %s is taken for a plain one', (columns) => {
    const { columns: before } = process.stderr;
    Object.defineProperty(process.stderr, 'columns', { value: columns, configurable: true, writable: true });
    const taken = processIo().columns;
    Object.defineProperty(process.stderr, 'columns', { value: before, configurable: true, writable: true });
    expect(taken).toBe(80);
  });
});
