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

describe('progress', () => {
  it.each(['correct', 'check', 'predict'])(
    'of %s says on a terminal how far it is and how long it will take',
    async (command) => {
      const { said } = await onTerminal(batch(command), 2000);
      const lines = [...said.matchAll(/\r\u001b\[K([^\r\n]*file[^\r\n]*left)/g)].map(([, line]) => line);
      expect(lines).toEqual([
        expect.stringMatching(/file 2 of 3, about 4 s left/),
        expect.stringMatching(/file 3 of 3, about 2 s left/),
      ]);
      // Whatever is said next takes its place.
      for (const [, next] of said.matchAll(/left([^\r]*)/g)) expect(next).toBe('');
    },
  );

  it('is quiet in the first second, off a terminal, and when asked to be', async () => {
    expect((await onTerminal(batch('check'), 1)).said).not.toMatch(/left|\u001b/);
    expect((await onTerminal([...batch('check'), '--overwrite'], 2000, { isTerminal: false })).said).not.toMatch(
      /left|\u001b/,
    );
    expect((await onTerminal([...batch('check'), '--overwrite', '--quiet'], 2000)).said).not.toMatch(/left|\u001b/);
  });
});
