import sharp from 'sharp';
import { describe, expect, it } from 'vitest';
import { newRun, processIo } from '../../src/cli/io.js';
import { afterScan, nextStep } from '../../src/cli/next-step.js';
import * as stencils from '../../src/cli/options/stencils.js';
import type { CellFeature, FeaturesFile } from '../../src/coupon/features.js';
import { bench, featuresOf, layer, profileOf } from './bench.js';

const desk = bench({ 'my laser.json': profileOf(), 'a board.gbr': layer() });

/** What a command refuses to do without, where no project file answers it. */
const NEEDED = Object.entries(stencils as Readonly<Record<string, unknown>>).map(([name, spec]) => {
  const { options = {} } = spec as { options?: Readonly<Record<string, { isNeeded?: boolean }>> };
  return [name, Object.keys(options).filter((key) => options[key].isNeeded)] as const;
});

/** The next steps that a command line prints, each with all that it needs. */
async function nextAfter(...args: string[]): Promise<string[]> {
  const { code, said } = await desk.run(...args);
  expect([code === 0 || code === 3 || said]).toEqual([true]);
  const steps = [...said.matchAll(/^next: (.*)$/gm)].map(([, step]) => step);
  for (const step of steps) {
    const keys = NEEDED.find(([name]) => step.includes(`apertrue ${name} `))?.[1] ?? [];
    for (const key of keys) expect(step).toContain(`--${key} `);
    // It is pasted: nothing may stand behind it.
    if (step.includes('apertrue ')) expect(step.slice(step.lastIndexOf('apertrue '))).not.toMatch(/[;:] /);
  }
  return steps;
}

const coupon = (names: string): Promise<string[]> =>
  nextAfter(`coupon ${names} --width-mm 100 --height-mm 80 --pitch-mm 0.1 -f svg -o 'my bench'`);
const withProfile = (): string[] => ['-p', 'my laser.json'];

describe('the next step', () => {
  it('is to read a coupon by hand, or a grid of marks with a scanner', async () => {
    expect(await coupon('witness power-speed-grid')).toEqual([
      'cut power-speed-grid and witness and read each, then type in what you read: apertrue enter "my bench/power-speed-grid.readings.csv"',
      'apertrue enter "my bench/witness.readings.csv"',
      'apertrue window "my bench/power-speed-grid.readings.csv" --out "my bench"',
      'apertrue fit "my bench/witness.readings.csv" --out my-laser.profile.json',
    ]);
    expect(await coupon('field-grid')).toEqual([
      'cut field-grid, scan it twice, the second time turned by about 90 degrees, then: apertrue scan "scans/*.png" --features "my bench/field-grid.features.json" --out read',
    ]);
    expect(await nextAfter('coupon', '--list')).toEqual([]);
  });

  it('after a grid is to cut coupons only where it shows a setting, in words that it bears out', async () => {
    await coupon('power-speed-grid');
    const file = 'my bench/power-speed-grid.readings.csv';
    const features = desk.json('my bench/power-speed-grid.features.json').features as CellFeature[];
    const read = async (outcome: (energy: number, i: number) => string) => {
      const rows = features.map(({ id, powerPercent, speedMmS }, i) => `${id},${outcome(powerPercent / speedMmS, i)}`);
      desk.put('my bench/power-speed-grid.readings.csv', `feature,outcome\n${rows.join('\n')}\n`);
      const { out, said } = await desk.run(`window '${file}'`);
      return { out, next: /^next: (.*)$/m.exec(said)?.[1] ?? '' };
    };
    const energies = features.map(({ powerPercent, speedMmS }) => powerPercent / speedMmS).sort((a, b) => a - b);
    const at = (share: number): number => energies[Math.floor(share * (energies.length - 1))];
    const most = energies[energies.length - 1];
    const coupons = /^cut two coupons with that setting/;
    const grid =
      /^cut the next grid: apertrue coupon power-speed-grid --power-steps [\d.,]+ --speeds [\d.,]+ --width-mm 100 --height-mm 80 --pitch-mm 0\.1 --out ".*my bench.grid-2"$/;

    const both = await read((e) => (e < at(0.2) ? 'uncut' : e < at(0.7) ? 'through' : 'marked'));
    expect(both.out).toMatch(
      /the widest margin on both sides\.\n[\s\S]*probability of (more than )?\d+ %, by these cells and by/,
    );
    expect(both.next).toMatch(coupons);
    const one = await read((e) => (e < at(0.3) ? 'uncut' : 'through'));
    expect(one.out).toMatch(
      /between the one edge that was found and the end[\s\S]*these cells \(only one edge was found\)/,
    );
    expect(one.next).toMatch(coupons);
    const clean = await read(() => 'through');
    expect(clean.out).toMatch(/all of it clean\.\n[\s\S]*these cells \(no edge was found\)/);
    expect(clean.next).toMatch(coupons);
    for (const none of [() => 'uncut', () => 'marked', (e: number) => (e === most ? 'through' : 'partial')]) {
      const { out, next } = await read(none);
      expect(out).toMatch(/No setting to recommend/);
      expect(out).not.toMatch(/Cut with|probability/);
      expect(next).toMatch(grid);
    }
    expect((await read((e) => (e < at(0.5) ? 'marked' : 'uncut'))).next).toMatch(/^look at the cells again/);
  });

  it.each([
    [
      'crowded at the end of what was tried',
      [
        [40, 'through'],
        [40.5, 'through'],
      ],
      /^cut the next grid: apertrue coupon power-speed-grid --power-steps 28\.7,/,
    ],
    [
      'crowded, and one edge is seen',
      [
        [30, 'uncut'],
        [38, 'through'],
        [40, 'through'],
      ],
      /^cut the next grid: /,
    ],
    [
      'narrow between two edges',
      [
        [35, 'uncut'],
        [36, 'through'],
        [38, 'through'],
        [40, 'through'],
        [42, 'through'],
        [43, 'marked'],
      ],
      /^cut two coupons/,
    ],
    [
      'wide',
      [
        [30, 'through'],
        [50, 'through'],
      ],
      /^cut two coupons/,
    ],
  ] as const)('of a window that is %s is one advice, and its margin one figure', async (_, cells, expected) => {
    const features = cells.map(([powerPercent], i) => ({ id: `G${i}`, kind: 'cell', powerPercent, speedMmS: 100, box: [i, 0, i + 0.5, 1], say: 'look' })); // biome-ignore format: one row
    desk.put('g.features.json', featuresOf(features, 'power-speed-grid'));
    desk.put('g.readings.csv', `feature,outcome\n${cells.map(([, outcome], i) => `G${i},${outcome}\n`).join('')}`);
    const { out, said } = await desk.run('window g.readings.csv');
    const [next, more] = [...said.matchAll(/^next: (.*)$/gm)].map(([, step]) => step);
    expect([more, next]).toEqual([undefined, expect.stringMatching(expected)]);
    const isGrid = next.includes('grid:');
    expect([isGrid || !/\bCut a/.test(said), out.includes('Cut with')]).toEqual([true, !isGrid]);
    const [, told] = /narrowest margin is ([\d.]+) %/.exec(out)!;
    const [, warned = told] = /margin is only ([\d.]+) %/.exec(said) ?? [];
    expect(warned).toBe(told);
    const sides = [...out.matchAll(/([\d.]+) % +([\d.]+) %$/gm)].flatMap(([, down, up]) => [Number(down), Number(up)]);
    expect(Math.min(...sides)).toBeGreaterThanOrEqual(Number(told));
  });

  it('from correct to predict and back is about the same format', async () => {
    const args = ['a board.gbr', ...withProfile(), '-o', 'out'];
    const shows = async (...more: string[]): Promise<boolean> =>
      (await desk.run('predict', ...args, '--overwrite', ...more)).out.includes('in dots');
    expect([await shows(), await shows('-f', 'svg,dxf'), await shows('-f', 'svg,bmp')]).toEqual([true, false, true]);
    expect(await nextAfter('correct', ...args, '-f', 'svg')).toEqual([expect.stringContaining(' --format svg ')]);
    const { code, said } = await desk.run('predict', ...args, '-f', 'svg', '--burn-every-nth-row', '2');
    expect([code, said]).toEqual([2, expect.stringContaining('paths have no rows')]);
  });

  it('after a look at a stencil that is there already does not ask to write it once more', async () => {
    const args = ['a board.gbr', ...withProfile(), '-o', 'out'];
    expect(await nextAfter('predict', ...args)).toEqual([expect.stringMatching(/^apertrue correct /)]);
    await nextAfter('correct', ...args);
    const [again] = await nextAfter('predict', ...args, '--overwrite');
    expect(again).toMatch(
      /^a stencil is there already: cut it only if it was made from this artwork and profile, .*; to make it anew: apertrue correct .* --overwrite$/,
    );
  });

  it.each([
    [
      'layout',
      '--board-mm 20x10 --board-at-mm -3,-3 --no-witness --hole 15,5,1 --hole 15,-1,1',
      45,
      60,
      ' --hole 15,5,1 --hole 15,-1,1 --rotate 90',
    ],
    ['layout', '--board-mm 20x10 --board-at-mm -3,-3 --no-witness --rotate 90', 60, 45, ' --rotate 0'],
    ['layout', '--board-mm 20x10 --board-at-mm -3,-3 --no-witness', 40, 30, undefined],
    ['correct', '', 15, 24, ' --rotate 90'],
    ['predict', '', 15, 24, ' --rotate 90'],
  ])(
    'of %s %s for a bed of %d x %d mm that can’t hold it is what helps, not to cut',
    async (name, more, widthMm, heightMm, turn) => {
      desk.put('apertrue.json', JSON.stringify({ format: 'apertrue-project', version: 1, bed: { widthMm, heightMm } }));
      const line = `${name} 'a board.gbr' -p 'my laser.json' -f svg -o out ${more}`;
      const [next, ...others] = await nextAfter(line);
      expect([others, /\bcut (it )?(as|with)/.test(next)]).toEqual([[], false]);
      if (turn === undefined) {
        expect(next).toMatch(/^don’t cut it: .* --overwrite$/);
        return;
      }
      const again = next.slice(next.indexOf(`apertrue ${name} "a board.gbr" `) + 'apertrue '.length);
      expect(again).toMatch(new RegExp(`${turn} --overwrite$`));
      const { code, said } = await desk.run(again);
      expect([code, said.includes('BEYOND') || said.includes('can’t reach')]).toEqual([0, false]);
    },
  );

  it('says again, as it was typed, how the artwork is to be read and laid in dots', async () => {
    const board = 'a board.gbr';
    const more = ['--side=bottom', '--pitch-mm', '0.05x0.0254', '--any-layer', '--rotate', '90', '-o', 'out'];
    expect(await nextAfter('correct', board, ...withProfile(), ...more)).toEqual([
      expect.stringMatching(
        /: apertrue predict "a board\.gbr" --any-layer --side bottom --pitch-mm 0\.05x0\.0254 --rotate 90 --profile "my laser\.json" --out out(;|$)/,
      ),
    ]);
    expect(await nextAfter('predict', board, ...withProfile(), ...more.slice(0, -1), 'look')).toEqual([
      'apertrue correct "a board.gbr" --any-layer --side bottom --pitch-mm 0.05x0.0254 --rotate 90 --profile "my laser.json" --out look',
    ]);
    expect(await nextAfter('check', board, '-t', '4mil', '--drop', '1,3-4')).toEqual([
      'apertrue correct "a board.gbr" --drop 1,3-4 --profile FILE --out stencils',
    ]);
    expect(await nextAfter('check', board, ...withProfile())).toEqual([
      'apertrue correct "a board.gbr" --profile "my laser.json" --out stencils',
    ]);
    expect(await nextAfter('number', board, '-o', 'look')).toEqual(['apertrue check "a board.gbr" --thickness-mm 0.1']);
  });

  it('of a stencil that is not as asked is to look first', async () => {
    desk.put(
      'odd.gbr',
      `%FSLAX46Y46*%\n%MOMM*%\n%TF.FileFunction,Paste,Top*%\n%AMM*6,0,0,2,.1,.2,2,.05,2,0*%\n%ADD10M*%\n%ADD11R,1X1*%\nD11*\nX0Y0D03*\nD10*\nX9000000Y0D03*\nM02*\n`,
    );
    const args = ['odd.gbr', ...withProfile(), '-o', 'odd'];
    expect((await desk.run('correct', ...args)).code).toBe(3);
    expect(await nextAfter('correct', ...args, '--overwrite')).toEqual([
      expect.stringMatching(
        // What is pasted ends the line.
        /^to see whether what is listed above matters, before you cut it as it is, .*: apertrue predict odd\.gbr [^;]*$/,
      ),
    ]);
  });

  it('of what was written turned for a sweep along Y is to turn it back', async () => {
    const args = ['correct', 'a board.gbr', ...withProfile(), '-o', 'out', '--overwrite'];
    const { out, said } = await desk.run(...args, '--sweep', 'y', '--report');
    const page = desk.text('out/a board.report.html');
    for (const text of [out, said, page]) expect(text).toMatch(/turn it by 90 degrees\s+clockwise in your program/);
    expect(said).not.toContain('cut it as it is');
    expect(await nextAfter(...args)).toEqual([expect.stringMatching(/^cut it as it is, same program/)]);
  });

  it('after a treatment corrects what it wrote', async () => {
    const treat = ['treat', 'a board.gbr', ...withProfile()];
    expect(await nextAfter(...treat, '-o', 'treated')).toEqual([
      'apertrue correct "treated/a board.treated.svg" --profile "my laser.json" --out stencils',
    ]);
    expect(await nextAfter(...treat, '--dry-run')).toEqual([]);
  });

  it('of a picture whose size is doubtful is to measure it, not to correct it', async () => {
    const svg = '<svg xmlns="http://www.w3.org/2000/svg" width="400" height="300"><rect width="400" height="300" fill="#fff"/><path d="M50 50h30v60h-30zM200 80h30v60h-30z"/></svg>'; // biome-ignore format: one picture
    desk.put('drawn.png', await sharp(Buffer.from(svg)).withMetadata({ density: 72 }).png().toBuffer());
    const size = /^measure how far .*: apertrue check drawn\.png --known-distance 1,2,25\.4 --thickness-mm 0\.1$/;
    expect(await nextAfter('check drawn.png -t 0.1')).toEqual([expect.stringMatching(size)]);
    expect(await nextAfter('number drawn.png -o look')).toEqual([expect.stringMatching(size)]);
    expect(await nextAfter('check drawn.png -t 0.1 --known-distance 1,2,40')).toEqual([
      'apertrue correct drawn.png --known-distance 1,2,40 --profile FILE --out stencils',
    ]);
  });

  it('names no file for what came through a pipe', () => {
    const none = new Set<string>();
    const piped = (name: string) =>
      nextStep(name, ['-'], {}, { run: newRun(), correct: none, check: none }, new Map([['--dpi', ['600']]]));
    expect(piped('correct')).toMatch(/as the coupons$/);
    expect(piped('check')).toContain('correct board.gbr --profile');
  });
});

it('after a scan is to fit what was read by hand as well, where the project keeps it', async () => {
  desk.put('apertrue.json', JSON.stringify({ format: 'apertrue-project', version: 1, profile: 'p.json', out: 'st' }));
  const features = (coupon: string) => ({
    features: { coupon, features: [{ kind: 'span' }] } as unknown as FeaturesFile,
  });
  const cells = { features: { coupon: 'grid', features: [{ kind: 'cell' }] } as unknown as FeaturesFile };
  const files = {
    'scale-ruler': 'RA0-6,90.1',
    'field-grid': 'FA0-3,50.1',
    blank: 'RA0-6,',
    'b.witness': 'WA0-1,11',
    odd: '"',
  };
  for (const [name, row] of Object.entries(files)) desk.put(`st/${name}.readings.csv`, `feature,reading_mm\n${row}\n`);
  const written = ['read/field-grid.readings.csv', 'read/field-grid.places.csv', 'read/scan.html'];
  expect((await afterScan(written, [features('field-grid')], processIo())).replaceAll('\\', '/')).toBe(
    'look at read/scan.html, then: apertrue fit st/scale-ruler.readings.csv read/field-grid.readings.csv read/field-grid.places.csv',
  );
  expect(await afterScan(['read/grid.readings.csv', 'read/scan.html'], [cells], processIo())).toBe(
    'look at read/scan.html, then: apertrue window read/grid.readings.csv',
  );
  // A piece of a later day is held against the profile: fitted with the coupons anew, what has changed would not show.
  const both = ['read/field-grid.readings.csv', 'read/witness.readings.csv', 'read/scan.html'];
  const added = 'apertrue fit read/witness.readings.csv --add-to p.json --out p.json --overwrite';
  const toPiece = await afterScan(both.slice(1), [features('witness')], processIo());
  expect(toPiece.replaceAll('\\', '/')).toBe(`look at read/scan.html, then: ${added}`);
  const toBoth = await afterScan(both, [features('field-grid'), features('witness')], processIo());
  expect(toBoth.replaceAll('\\', '/')).toBe(
    `look at read/scan.html, then: apertrue fit st/scale-ruler.readings.csv read/field-grid.readings.csv, and then: ${added}`,
  );
});
