import { beforeEach, describe, expect, it } from 'vitest';
import { type Io, processIo } from '../../src/cli/io.js';
import { run } from '../../src/cli/main.js';
import { bench, layer, profileOf } from './bench.js';

const desk = bench();
beforeEach(() => {
  desk.put('laser.json', profileOf());
  for (const name of ['a', 'b', 'c']) desk.put(`${name}.gbr`, layer());
});

/** Runs on a terminal whose clock goes on by `stepMs` whenever somebody looks at it. */
async function onTerminal(args: readonly string[], stepMs: number, over: Partial<Io> = {}) {
  let [out, said, now] = ['', '', 0];
  const io: Io = {
    ...processIo(),
    out: (text) => void (out += text),
    say: (text) => void (said += text),
    now: () => {
      now += stepMs;
      return new Date(now);
    },
    isTerminal: true,
    colours: false,
    columns: 100,
    ...over,
  };
  return { code: await run(args, io), out, said };
}

const batch = (command: string): string[] => {
  const files = ['a', 'b', 'c'].map((name) => `${name}.gbr`);
  return [command, ...files, '-p', 'laser.json', '-o', 'out'];
};

it('says that a profile is not there before that an option is lacking', async () => {
  for (const command of ['predict', 'correct', 'layout']) {
    const { code, said } = await desk.run(`${command} a.gbr --profile nosuch.json`);
    expect([command, code, said]).toEqual([command, 2, expect.stringMatching(/^error: nosuch\.json: /)]);
    expect(said).not.toContain('required option');
    const { said: then } = await desk.run(`${command} a.gbr --profile laser.json`);
    expect(then).toMatch(/^error: required option '-o, --out <folder>' not specified\. Add --help/);
  }
});

it('tells of a file that is named twice, and takes it once', async () => {
  const { code, said } = await desk.run('correct a.gbr b.gbr a.gbr -p laser.json -o out');
  expect(code).toBe(0);
  expect(said).toContain('note: a.gbr: named more than once, and taken once.\n');
  expect(said.match(/named more than once/g)).toHaveLength(1);
  expect((await desk.run('correct a.gbr b.gbr -p laser.json -o other')).said).not.toContain('more than once');
  expect((await desk.run('control laser.json laser.json')).said).toContain('note: laser.json: named more than once');
});

describe('progress', () => {
  it.each(['correct', 'check', 'predict'])(
    'of %s says on a terminal how far it is and how long it will take',
    async (command) => {
      const { said } = await onTerminal(batch(command), 2000);
      const lines = [...said.matchAll(/\r\u001b\[K[^\r\n]*file (\d) of 3, about (\d+) (?:s|min) left/g)];
      expect(lines.map(([, file]) => file)).toEqual(['2', '3']);
      // After the first of three files twice as long is left as after the second.
      expect(Number(lines[0][2]) / Number(lines[1][2])).toBeCloseTo(2, 5);
      // Whatever is said next takes its place.
      for (const [, next] of said.matchAll(/left([^\r]*)/g)) expect(next).toBe('');
    },
  );

  it.each([
    ['correct', ['correcting', 'choosing dots', 'looking at what will be cut']],
    ['predict', ['correcting', 'choosing dots', 'looking at what will be cut', 'cutting virtually', 'comparing']],
    ['layout', ['correcting', 'choosing dots', 'looking at what will be cut']],
  ])('of %s says it within one file, too', async (command, steps) => {
    const board = command === 'layout' ? ['--board-mm', '60x40'] : [];
    const { said } = await onTerminal([command, 'a.gbr', '-p', 'laser.json', '-o', 'out', ...board], 2000);
    for (const step of steps) expect(said).toMatch(new RegExp(`\\u001b\\[K${step}: \\d+ %, about \\d+ (s|min) left`));
  });

  it('is quiet in the first second, off a terminal, and when asked to be', async () => {
    expect((await onTerminal(batch('check'), 1)).said).not.toMatch(/left|\u001b/);
    expect((await onTerminal([...batch('check'), '--overwrite'], 2000, { isTerminal: false })).said).not.toMatch(
      /left|\u001b/,
    );
    expect((await onTerminal([...batch('check'), '--overwrite', '--quiet'], 2000)).said).not.toMatch(/left|\u001b/);
  });
});
