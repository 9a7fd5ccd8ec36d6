import { spawnSync } from 'node:child_process';
import { describe, expect, it } from 'vitest';
import { processIo } from '../../src/cli/io.js';
import { COMMANDS } from '../../src/cli/main.js';
import { withWords } from '../../src/cli/tell.js';
import { bench } from './bench.js';

const desk = bench({}, { columns: 80 });

describe('help', () => {
  it('of each command names its options with units, gives examples, and ends with 0', async () => {
    for (const { name } of COMMANDS) {
      const { code, out } = await desk.run(`${name} --help`);
      expect(code).toBe(0);
      expect(out).toContain(`Usage: apertrue ${name}`);
      expect(out.match(new RegExp(`^ {2}apertrue ${name}( |$)`, 'gm'))?.length ?? 0).toBeGreaterThanOrEqual(2);
      expect(out).toMatch(/Exit codes:/);
      expect(out.split('\n').filter((line) => line.length > 80)).toEqual([]);
    }
  });

  it('is shown by the word help too, alone and with a command', async () => {
    expect(await desk.run('help')).toEqual(await desk.run('--help'));
    expect(await desk.run('help correct')).toEqual(await desk.run('correct --help'));
  });

  it.each([
    [['checkk-nothing-like-it'], /Add --help to see what there is/],
    [
      ['correct'],
      /required option '-p, --profile <file>' not specified\. It says what the machine needs, and comes from apertrue fit;/,
    ],
    [['check', '-board.gbr'], /A file whose name begins with a dash: \.\/-board\.gbr/],
  ])('a command line that can’t be read, %j, says how to go on', async (args, words) => {
    const { code, said } = await desk.run(...args);
    expect([code, said]).toEqual([2, expect.stringMatching(words)]);
  });

  it('suggests the nearest command for a mistyped one', async () => {
    const { code, said } = await desk.run('corect board.gbr');
    expect(code).toBe(2);
    expect(said).toContain('correct');
  });

  it('puts options under headings, at most five that most jobs need first', async () => {
    for (const { name } of COMMANDS) {
      const { out } = await desk.run(`${name} --help`);
      const [first] = /^Most jobs need:\n(?: {2}.*\n)+/m.exec(out) ?? [''];
      expect((first.match(/^ {2}-/gm) ?? []).length).toBeLessThanOrEqual(5);
      const headings = [...out.matchAll(/^([A-Z][^\n]*):$/gm)].map(([, heading]) => heading);
      if (first !== '')
        expect(headings.filter((heading) => !/^(Arguments|Examples)/.test(heading))[0]).toBe('Most jobs need');
    }
  });

  it.each([
    [['help', 'nope'], /no command "nope"/],
    [['help', 'corect'], /Did you mean correct/],
    [['correct', 'x.gbr', '--profil', 'p.json'], /unknown option --profil of correct\. Did you mean --profile\?/],
    [['layout', '--profile=p', '--outt=x'], /Did you mean --out\?/],
  ])('%j ends with 2 and the nearest name', async (args, words) => {
    expect(await desk.run(...args)).toMatchObject({ code: 2, said: expect.stringMatching(words) });
  });

  it('-V is the version', async () => {
    expect((await desk.run('-V')).out).toMatch(/^\d+\.\d+\.\d+\n$/);
  });
});

describe('words on stderr', () => {
  const said = (text: string, colours: boolean, quiet = false): string => {
    let all = '';
    const io = { ...processIo(), colours, say: (words: string) => void (all += words) };
    withWords(io, { quiet }).say(text);
    return all;
  };

  it('are coloured by severity where there are colours', () => {
    expect(said('error: a\nwarning: b\n', true)).toBe('\u001b[31;1merror:\u001b[0m a\n\u001b[33mwarning:\u001b[0m b\n');
    expect(said('error: a\n', false)).toBe('error: a\n');
  });

  it('leave out what only says that all went well when asked to be quiet, and never a caution or a question', () => {
    expect(said('wrote a\nnote: b\nwarning: c\ncaution: d\nnext: e\n', false, true)).toBe('warning: c\ncaution: d\n');
    expect(said('RA0-6> ', false, true)).toBe('RA0-6> ');
  });
});

describe('completion', () => {
  it.each(['bash', 'zsh', 'fish', 'powershell'])('for %s names every command and its options', async (shell) => {
    const { code, out } = await desk.run(`completion ${shell}`);
    expect(code).toBe(0);
    for (const { name } of COMMANDS) expect(out).toContain(name);
    expect(out).toMatch(/machine-dpi/);
  });

  it('for bash completes in a real bash', async (context) => {
    const { out } = await desk.run('completion bash');
    const ask = (words: string) =>
      `${out}\nCOMP_WORDS=(${words}); COMP_CWORD=$((\${#COMP_WORDS[@]} - 1)); _apertrue; echo "\${COMPREPLY[@]}"`;
    const bash = (words: string) => spawnSync('bash', ['-c', ask(words)], { encoding: 'utf8' });
    if (bash('apertrue co').error) return context.skip();
    expect(bash('apertrue co').stdout.trim().split(/\s+/)).toEqual(['coupon', 'control', 'correct', 'completion']);
    expect(bash('apertrue correct --prof').stdout.trim()).toBe('--profile');
  });
});

it('doctor says that all is well, and names a project file that can’t be read', async () => {
  expect(await desk.run('doctor')).toMatchObject({
    code: 0,
    out: expect.stringMatching(/ok {2}sharp +loads[\s\S]*All is well/),
  });
  desk.put('apertrue.json', '{');
  const { code, out } = await desk.run('doctor');
  expect([code, out]).toEqual([3, expect.stringMatching(/BAD project +apertrue\.json.*JSON/)]);
});
