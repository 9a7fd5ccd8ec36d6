import { describe, expect, it } from 'vitest';
import { processIo } from '../../src/cli/io.js';
import { run } from '../../src/cli/main.js';
import { bench, layer, profileOf } from './bench.js';

const desk = bench({ 'laser.json': profileOf() });

/** Runs with a layer in the pipe. */
async function piped(...args: string[]) {
  let said = '';
  const bytes = new TextEncoder().encode(layer());
  const disk = processIo();
  const code = await run(args, {
    ...disk,
    out: () => undefined,
    say: (text) => void (said += text),
    readFile: async (path) => (path === '-' ? bytes : disk.readFile(path)),
    readStart: async (path, length) => (path === '-' ? bytes.subarray(0, length) : disk.readStart(path, length)),
  });
  return { code, said };
}

describe('artwork that comes through a pipe', () => {
  it.each([
    ['number'],
    ['check', '-t', '0.1'],
    ['treat', '-t', '0.1'],
    ['correct', '-p', 'laser.json'],
    ['layout', '-p', 'laser.json', '--no-witness', '--format', 'svg'],
    ['predict', '-p', 'laser.json'],
  ])('%s takes it, and calls its results stdin', async (command, ...more) => {
    const args = more.map((arg) => (arg === 'laser.json' ? arg : arg));
    const { code, said } = await piped(command, '-', ...args, '-o', 'out');
    expect([code === 0 || code === 3 || said]).toEqual([true]);
    const names = desk.list('out');
    expect(names.length).toBeGreaterThan(1);
    for (const name of names) expect(name).toMatch(/^stdin\./);
  });

  it('is one file only', async () => {
    const { code, said } = await piped('correct', '-', '-p', '-', '-o', 'out');
    expect([code, said]).toEqual([2, expect.stringContaining('only one file can come through the pipe')]);
  });
});

describe('colours', () => {
  it.each([
    [{ NO_COLOR: '1' }, false],
    [{ NO_COLOR: '' }, true],
    [{ TERM: 'dumb' }, false],
  ])('with %j in the environment, on a terminal: %s (no-color.org)', (variables, coloured) => {
    const [env, isTTY] = [process.env, process.stderr.isTTY];
    try {
      process.env = { ...env, NO_COLOR: '', TERM: 'xterm', ...variables };
      process.stderr.isTTY = true;
      expect(processIo().colours).toBe(coloured);
    } finally {
      process.env = env;
      process.stderr.isTTY = isTTY;
    }
  });
});
