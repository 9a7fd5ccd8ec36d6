import { Command } from 'commander';
import { describe, expect, it } from 'vitest';
import { COMMANDS } from '../../src/cli/commands.js';
import { processIo } from '../../src/cli/io.js';
import { bench } from './bench.js';

describe('help', () => {
  it('lists every command with the summary that the command has itself', async () => {
    for (const { name, summary, load } of COMMANDS) {
      const program = new Command();
      (await load())(program, processIo(), () => undefined);
      expect(program.commands.map((c) => [c.name(), c.summary()])).toEqual([[name, summary]]);
    }
  });

  it('of each command names its options with units, gives examples, and ends with 0', async () => {
    const desk = bench();
    for (const { name } of COMMANDS) {
      const { code, out } = await desk.run(name, '--help');
      expect(code).toBe(0);
      expect(out).toContain(`Usage: apertrue ${name}`);
      expect(out.match(new RegExp(`^ {2}apertrue ${name} `, 'gm'))?.length ?? 0).toBeGreaterThanOrEqual(2);
      expect(out).toMatch(/Exit codes:/);
    }
    desk.remove();
  });

  it('is shown by the word help too, alone and with a command', async () => {
    const desk = bench();
    expect(await desk.run('help')).toEqual(await desk.run('--help'));
    expect(await desk.run('help', 'correct')).toEqual(await desk.run('correct', '--help'));
    desk.remove();
  });

  it.each([
    [['checkk-nothing-like-it'], /Add --help to see what there is/],
    [['correct'], /required option '-p, --profile <file>' not specified\. Add --help/],
    [['check', '-board.gbr'], /A file whose name begins with a dash: \.\/-board\.gbr/],
  ])('a command line that can’t be read, %j, says how to go on', async (args, words) => {
    const desk = bench();
    const { code, said } = await desk.run(...args);
    expect([code, said]).toEqual([2, expect.stringMatching(words)]);
    desk.remove();
  });

  it('suggests the nearest command for a mistyped one', async () => {
    const desk = bench();
    const { code, said } = await desk.run('corect', 'board.gbr');
    expect(code).toBe(2);
    expect(said).toContain('correct');
    desk.remove();
  });
});
