import { execFileSync } from 'node:child_process';
import { existsSync } from 'node:fs';
import { describe, expect, it } from 'vitest';
import { EXIT } from '../../src/cli/exit-codes.js';
import { problemsOf } from '../../src/cli/file-problem.js';
import { processIo } from '../../src/cli/io.js';
import { run } from '../../src/cli/main.js';
import { bench, layer, profileOf } from './bench.js';

const desk = bench({ 'laser.json': profileOf(), 'board.gbr': layer() });

const terms = Array.from({ length: 100_000 }, () => '1').join('+');
const deep = `${'['.repeat(200_000)}${']'.repeat(200_000)}`;
const pattern = (size: string): string =>
  JSON.stringify({
    format: 'apertrue-pattern',
    version: 1,
    name: 'mine',
    title: 'mine',
    parameters: { a: size },
    elements: [],
  });
const rules = (formula: string): string =>
  JSON.stringify({
    format: 'apertrue-rules',
    version: 1,
    name: 'mine',
    rules: [{ name: 'one', do: { action: 'resize', toMm: { width: formula, height: formula } } }],
  });
const macro = `%FSLAX46Y46*%%MOMM*%%AMA*1,1,${terms},0,0*%%ADD10A*%D10*X0Y0D03*M02*`;
const holes = `M48\nMETRIC\nT1C3.0\n%\nT1\n${Array.from({ length: 130_000 }, (_, i) => `X${i % 400}.0Y${Math.floor(i / 400)}.0`).join('\n')}\nM30\n`;
const rows = `feature,reading_mm\n${'S0,1\n'.repeat(130_000)}`;

describe('more than can be worked with ends in a refusal in words, and --json says it in one value', () => {
  it.each<[string, string, string, string[], RegExp]>([
    ['130,000 readings', 'r.csv', rows, ['fit', 'r.csv'], /TOO_MANY_ROWS/],
    ['130,000 readings of a grid', 'r.csv', rows, ['window', 'r.csv'], /TOO_MANY_ROWS/],
    [
      '130,000 holes',
      'h.drl',
      holes,
      ['layout', 'board.gbr', '--profile', 'laser.json', '--drill', 'h.drl', '--out', 'o'],
      /TOO_MANY_HOLES/,
    ],
    [
      'a macro of 100,000 terms',
      'm.gbr',
      macro,
      ['correct', 'm.gbr', '--profile', 'laser.json', '--out', 'o'],
      /MACRO_EXPRESSION/,
    ],
    [
      'a rule of 100,000 terms',
      'r.json',
      rules(terms),
      ['treat', 'board.gbr', '--thickness-mm', '0.1', '--rules', 'r.json', '--out', 'o'],
      /BAD_|UNKNOWN_KEY/,
    ],
    [
      'a pattern of 100,000 terms',
      'p.json',
      pattern(terms),
      ['coupon', './p.json', '--width-mm', '60', '--height-mm', '50', '--pitch-mm', '.05', '--out', 'o'],
      /BAD_/,
    ],
    [
      'a profile 200,000 deep',
      'd.json',
      deep,
      ['correct', 'board.gbr', '--profile', 'd.json', '--out', 'o'],
      /JSON_TOO_DEEP/,
    ],
    [
      'rules 200,000 deep',
      'd.json',
      deep,
      ['treat', 'board.gbr', '--thickness-mm', '0.1', '--rules', 'd.json', '--out', 'o'],
      /JSON_TOO_DEEP/,
    ],
    [
      'limits 200,000 deep',
      'd.json',
      `{"a":${deep}}`,
      ['check', 'board.gbr', '--thickness-mm', '0.1', '--limits', 'd.json'],
      /JSON_TOO_DEEP/,
    ],
    [
      'an SVG 200,000 deep',
      'd.svg',
      `<svg xmlns="http://www.w3.org/2000/svg" width="9mm" height="9mm">${'<g>'.repeat(200_000)}${'</g>'.repeat(200_000)}</svg>`,
      ['correct', 'd.svg', '--profile', 'laser.json', '--out', 'o'],
      /./,
    ],
  ])('%s', async (_, name, content, args, codes) => {
    desk.put(name, content);
    const { code, out, said } = await desk.run(...args, '--json');
    expect([code, said]).toEqual([EXIT.badInput, expect.not.stringContaining('a bug')]);
    const { error } = JSON.parse(out) as { error: { code: string; message: string } };
    expect(error.code).toMatch(codes);
    expect(said).toContain(error.message.slice(0, 30));
    expect(error.message.length).toBeLessThan(400);
  });

  it.runIf(existsSync('/dev/zero'))('a device and a pipe are no files, and end no batch', async () => {
    execFileSync('mkfifo', ['pipe.gbr']);
    const names = ['pipe.gbr', '/dev/zero', 'none.gbr', desk.folder, 'board.gbr'];
    for (const command of ['correct', 'predict']) {
      const { code, out, said } = await desk.run(
        `${command}`,
        ...names,
        '--profile',
        'laser.json',
        '--out',
        'o',
        '--json',
      );
      expect(code).toBe(EXIT.someFailed);
      expect(said.match(/^error: .*a pipe or a device/gm)).toHaveLength(2);
      const values = JSON.parse(out) as { file: string; error?: { code: string } }[];
      expect(values).toHaveLength(5);
      expect(values.filter(({ error }) => error?.code === 'FILE_NOT_READ')).toHaveLength(4);
    }
  });

  it('a mistyped option', async () => {
    const { code, out } = await desk.run('check board.gbr --nonsense --json');
    expect(code).toBe(EXIT.badInput);
    expect(JSON.parse(out)).toMatchObject({
      error: { code: 'COMMAND_LINE', message: expect.stringContaining('--nonsense') },
    });
  });

  it('a failure after the report was printed is what stdout tells', async () => {
    let out = '';
    const io = {
      ...processIo(),
      out: (text: string) => void (out += text),
      say: (text: string) => {
        if (text.startsWith('caution')) throw Object.assign(new Error('EMFILE'), { code: 'EMFILE' });
      },
    };
    const args = ['correct', 'board.gbr', '--profile', 'laser.json', '--out', 'o', '--json'];
    expect(await run(args, io)).toBe(EXIT.badInput);
    expect(JSON.parse(out)).toMatchObject({ error: { code: 'SYSTEM_REFUSED' } });
  });
});

describe('what was thrown, in words', () => {
  const overflow = (): unknown => {
    const down = (n: number): number => down(n + 1) + 1;
    try {
      return down(0);
    } catch (error) {
      return error;
    }
  };
  const thrown = (work: () => unknown): unknown => {
    try {
      return work();
    } catch (error) {
      return error;
    }
  };

  it.each<[string, unknown, string]>([
    ['a stack that is used up', overflow(), 'TOO_MUCH'],
    ['more arguments than a call takes', thrown(() => Math.max(...new Array(200_000).fill(1))), 'TOO_MUCH'],
    ['a string that is too long', thrown(() => 'x'.repeat(2 ** 29).repeat(8)), 'TOO_MUCH'],
    ['a list that is too long', thrown(() => new Array(-1)), 'TOO_MUCH'],
    ['no more files', Object.assign(new Error('x'), { code: 'EMFILE' }), 'SYSTEM_REFUSED'],
    ['a slip of this program', new TypeError('x is no function'), 'BUG'],
    ['a number that is out of range', thrown(() => (1).toFixed(200)), 'BUG'],
    ['no error at all', 'x', 'BUG'],
  ])('%s', (_, error, code) => {
    const [problem] = problemsOf(error, 'a.gbr');
    expect([problem.code, problem.place]).toEqual([code, { file: 'a.gbr' }]);
    expect(problem.message).not.toMatch(/at .*:\d+:\d+/);
  });
});
