import sharp from 'sharp';
import { describe, expect, it } from 'vitest';
import { bench, layer, profileOf } from './bench.js';

const desk = bench({ 'laser.json': profileOf(), 'board.gbr': layer() });

const drawing = (width: string): string =>
  `<svg xmlns="http://www.w3.org/2000/svg" width="${width}" height="${width}" viewBox="0 0 9 9"><path d="M1 1H3V3H1Z"/></svg>`;

/** A white picture with two black lands, whose file states so many dots per inch. */
async function picture(name: string, dpi: number): Promise<string> {
  const lands = '<rect width="100" height="60" fill="#fff"/><path d="M10 20h20v30h-20zM50 20h30v20h-30z"/>';
  const svg = `<svg xmlns="http://www.w3.org/2000/svg" width="100" height="60">${lands}</svg>`;
  return desk.put(name, await sharp(Buffer.from(svg)).withMetadata({ density: dpi }).png().toBuffer());
}

const run = (command: string, file: string, ...args: string[]) =>
  desk.run(`${command} ${file}`, ...(command === 'check' ? [] : ['--out', 'out']), '--profile', 'laser.json', ...args);

describe('an option that would change nothing is refused, and nothing is written', () => {
  it.each([
    ['correct', 'board.gbr', ['--dpi', '600'], '--dpi'],
    ['correct', 'board.gbr', ['--width-mm', '60'], '--width-mm'],
    ['check', 'board.gbr', ['--known-distance', '1,2,5'], '--known-distance'],
    ['treat', 'board.gbr', ['--polarity', 'dark'], '--polarity'],
    ['predict', 'board.gbr', ['--drop-specks-mm', '0.1'], '--drop-specks-mm'],
    ['layout', 'board.gbr', ['--page', '2'], '--page'],
    ['correct', 'board.svg', ['--page', '2'], '--page'],
    ['correct', 'board.svg', ['--any-layer'], '--any-layer'],
    ['check', 'board.gbr', ['--all', '--json'], '--all'],
    ['correct', 'board.gbr', ['--at-mm', '3,4'], '--at-mm'],
    ['correct', 'board.gbr', ['--canvas-mm', '40x30', '--margin-mm', '3'], '--margin-mm'],
    ['correct', 'board.gbr', ['--grey', '40'], '--grey'],
    ['correct', 'board.gbr', ['--thickness-mm', '0.1'], '--thickness-mm'],
    ['correct', 'board.gbr', ['--format', 'dxf', '--burn-every-nth-row', '2'], '--burn-every-nth-row'],
    ['correct', 'board.gbr', ['--format', 'dxf', '--negative'], '--negative'],
    ['layout', 'board.gbr', ['--board-at-mm', '0,0'], '--board-at-mm'],
    ['layout', 'board.gbr', ['--hole-mm', '3.2'], '--hole-mm'],
    ['layout', 'board.gbr', ['--spacing-mm', '4'], '--spacing-mm'],
    ['layout', 'board.gbr', ['--thickness-mm', '0.1'], '--thickness-mm'],
  ])('%s %s %j', async (command, file, args, flag) => {
    desk.put('board.svg', drawing('9mm'));
    const { code, said } = await run(command, file, ...args);
    expect([code, said]).toEqual([2, expect.stringContaining(`"${flag}": this has no effect`)]);
    expect(desk.list()).not.toContain('out');
  });

  it.each([
    ['--sweep', 'y'],
    ['--burn-every-nth-row', '2'],
  ])('predict %s %s, where no pitch is known', async (flag, value) => {
    const { pitchMm: _, ...profile } = JSON.parse(profileOf().toString());
    desk.put('laser.json', JSON.stringify(profile));
    const { code, said } = await run('predict', 'board.gbr', flag, value);
    expect([code, said]).toEqual([2, expect.stringContaining(`"${flag}": this has no effect`)]);
  });

  it('treat --design-thickness-mm with rules that never ask for it', async () => {
    const rule = { name: 'r', select: {}, action: { kind: 'round-ends' } };
    desk.put('r.json', JSON.stringify({ format: 'apertrue-rules', version: 1, name: 'mine', rules: [rule] }));
    const args = ['--rules', 'r.json', '--design-thickness-mm', '0.12'];
    const { code, said } = await run('treat', 'board.gbr', ...args);
    expect([code, said]).toEqual([2, expect.stringContaining('no rule of "mine" asks for it')]);
  });

  it('coupon with powers for a pattern that is no grid', async () => {
    const bed = ['--width-mm', '90', '--height-mm', '70', '--pitch-mm', '0.05', '--out', 'out'];
    const { code, said } = await desk.run('coupon witness', ...bed, '--power-steps', '20,40');
    expect([code, said]).toEqual([2, expect.stringContaining('"--power-steps": this has no effect')]);
    expect(desk.list()).not.toContain('out');
  });

  it('coupon --list with anything to make', async () => {
    const { code, said } = await desk.run('coupon witness --list --width-mm 60');
    expect(code).toBe(2);
    expect(said).toMatch(/"witness": this has no effect.*\n.*"--width-mm": this has no effect/);
  });

  it('two ways of saying the size', async () => {
    await picture('p.png', 1000);
    const { code, said } = await run('correct', 'p.png', '--dpi', '1000', '--width-mm', '9');
    expect([code, said]).toEqual([2, expect.stringContaining('cannot be used with')]);
  });

  it('in a batch that some files can use it for, it is told of, and used', async () => {
    await picture('p.png', 72);
    const { code, said } = await run('correct', 'board.gbr', 'p.png', '--dpi', '1000');
    expect([code, said]).toEqual([
      0,
      expect.stringMatching(/note: "--dpi": this has no effect on some files: .*board\.gbr is Gerber/),
    ]);
  });
});

describe('a size that nobody is sure of', () => {
  it.each(['correct', 'check', 'treat', 'predict'])(
    '%s tells by its exit code of a picture that says 72 dpi',
    async (command) => {
      await picture('p.png', 72);
      const { code, said } = await run(command, 'p.png');
      expect([code, said]).toEqual([
        3,
        expect.stringMatching(/72\.01 dpi, which is coarse.*give --dpi or --width-mm/s),
      ]);
    },
  );

  it.each([
    ['as the file says', 600, []],
    ['as the user says', 96, ['--dpi', '96']],
  ])('no word of it %s', async (_name, dpi, args) => {
    await picture('p.png', dpi);
    expect((await run('correct', 'p.png', ...args)).code).toBe(0);
  });

  it('a drawing in mm says that it did not use --dpi', async () => {
    desk.put('board.svg', drawing('9mm'));
    const { code, said } = await run('correct', 'board.svg', '--dpi', '300');
    expect([code, said]).toEqual([3, expect.stringContaining('--dpi has no effect on it')]);
    desk.put('board.svg', drawing('900'));
    expect((await run('correct', 'board.svg', '--dpi', '2540', '--overwrite')).code).toBe(0);
  });
});
