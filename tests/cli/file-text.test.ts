import { zipSync } from 'fflate';
import { describe, expect, it } from 'vitest';
import { csvCell, csvText, visible, visibleLines } from '../../src/text.js';
import { bench, layer, profileOf } from './bench.js';

const desk = bench({ 'laser.json': profileOf() });

/** Moves the cursor, C1 introducer, right-to-left override, isolate, zero width, line separator, a new line. */
const NASTY = '\u001b[2J\u009b31m\u202egnp\u2066\u200b\u2028';
const isPlain = (text: string): boolean => visibleLines(text) === text;

describe('text of files is shown, not obeyed', () => {
  // Unicode Standard, chapters 23.1 and 23.2: control codes and format characters.
  it('control, C1, bidirectional and invisible characters are written out, everything else stays', () => {
    expect(visible('a\u001b\u0085\u202e\u2069\ufeff\u200bb\n')).toBe(
      'a\\u001b\\u0085\\u202e\\u2069\\ufeff\\u200bb\\u000a',
    );
    expect(visible('\u{e0041}')).toBe('\\udb40\\udc41');
    expect(visible('Größe 3 µm ± 1 Ω 電阻')).toBe('Größe 3 µm ± 1 Ω 電阻');
    expect(visibleLines('a\tb\nc\r')).toBe('a\tb\nc\\u000d');
  });

  it('JSON that is written out is the same JSON', () => {
    const value = { name: NASTY, more: 'µ\u0000\u007f' };
    expect(JSON.parse(visibleLines(JSON.stringify(value)))).toEqual(value);
  });

  it.each([
    ['check', ['--thickness-mm', '0.1']],
    ['treat', ['--thickness-mm', '0.1']],
    ['correct', ['--profile', 'laser.json']],
    ['predict', ['--profile', 'laser.json']],
  ])('%s: names of files in a zip, components and attributes', async (command, options) => {
    const text = layer('Top').replace('D10*X0', `%TO.C,=R1${NASTY}*%%TO.P,=R1${NASTY},-1${NASTY}*%\nD10*X0`);
    const zip = zipSync({
      [`a\n${NASTY}paste-top.gbr`]: new TextEncoder().encode(text),
      'x\u202e.txt': new Uint8Array(3),
    });
    desk.put('fab.zip', zip);
    for (const json of [[], ['--json', '--overwrite']]) {
      const { code, out, said } = await desk.run(`${command} fab.zip`, ...options, '--out', 'out', ...json);
      expect([0, 3]).toContain(code);
      expect(isPlain(out)).toBe(true);
      expect(isPlain(said)).toBe(true);
      expect(out + said).toMatch(/\\u202e/);
      if (json.length > 0) expect(() => JSON.parse(out)).not.toThrow();
    }
    for (const name of desk.list('out').filter((each) => each.endsWith('.csv'))) {
      const csv = desk.text(`out/${name}`);
      expect(isPlain(csv)).toBe(true);
      expect(csv).not.toMatch(/(?:^|[,;"])[=@]/m);
    }
  });

  it.each([
    ['number', []],
    ['check', ['--thickness-mm', '0.1']],
    ['treat', ['--thickness-mm', '0.1']],
    ['correct', ['--profile', 'laser.json', '--report', '--format', 'png,svg,dxf,pdf']],
    ['predict', ['--profile', 'laser.json']],
    ['layout', ['--profile', 'laser.json', '--report', '--board-mm', '20x10', '--no-witness', '--format', 'svg']],
  ])('%s: pictures and pages of a file whose name no XML may hold', async (command, options) => {
    const file = desk.put(`a${NASTY}\u0007<&>.gbr`, layer());
    const { code, said } = await desk.run(command, file, ...options, '--out', 'out');
    expect([0, 3]).toContain(code);
    expect(isPlain(said)).toBe(true);
    const drawn = desk.list('out').filter((name) => /\.(svg|html)$/.test(name));
    for (const name of drawn) expect(isPlain(desk.read(`out/${name}`).toString())).toBe(true);
    expect(drawn.length + Number(command === 'correct')).toBeGreaterThan(0);
  });

  it('number: the name of a file stays on its line', async () => {
    const file = desk.put('new\nline.gbr', layer());
    const { out } = await desk.run('number', file, '--out', 'out');
    expect(out).toMatch(/^.*new\\u000aline\.gbr: 6 openings\n$/);
  });

  it('a name with a line feed begins no line of its own', async () => {
    const { said } = await desk.run(`correct 'x
error: all is well' --profile laser.json --out o`);
    expect(said.split('\n').filter((line) => line.startsWith('error: all'))).toEqual([]);
  });
});

describe('cells that a spreadsheet would work out', () => {
  // OWASP, "CSV Injection": cells that begin with = + - @, tab or carriage return.
  it.each(['=1+1', '+1+1', '-1+1', '@SUM(A1)', '\t=1', '\r=1', ' =1', '＝1', '-R1', '"=1"'])('%j is text', (text) => {
    expect(csvCell(text)).toMatch(/^(?:"?)'/);
  });

  it.each(['-1.5', '+2', '0.31', '-1e-9', '.5'])('%j is a number and stays one', (text) => {
    expect(csvCell(text)).toBe(text);
    expect(csvCell(Number(text))).toBe(String(Number(text)));
  });

  it('nothing parts a cell in two, whatever the country parts cells with', () => {
    expect(csvText({ a: ({ a }) => a, b: ({ b }) => b }, [{ a: 'x;=1', b: 'say "hm", 2' }])).toBe(
      'a,b\n"x;=1","say ""hm"", 2"\n',
    );
  });
});
