import sharp from 'sharp';
import { describe, expect, it } from 'vitest';
import { readArtwork } from '../../src/artwork/read.js';
import { processIo } from '../../src/cli/io.js';
import type { Board } from '../../src/cli/layout/board.js';
import { commandSheet, hasWitness, onWholeDots } from '../../src/cli/layout/sheet.js';
import { layArtwork } from '../../src/cli/layout/stencil.js';
import type { Stamp } from '../../src/dots/stamp.js';
import { rectangle } from '../../src/geometry/shapes.js';
import { packSheet } from '../../src/layout/pack.js';
import { machineModel } from '../../src/machine/machine-model.js';
import { makeStencil } from '../../src/stencil/make-stencil.js';
import { seeded } from '../virtual-laser/random.js';
import { bench, layer, layerIn, profileOf } from './bench.js';

const desk = bench({ 'laser.json': profileOf() });

const round = (mm: number): number => Math.round(mm * 1e6);

/** A paste layer whose pads come near to the corners and the sides of a board of 20 x 10 mm, and to a hole in its middle. */
function crowded(random: () => number, side: 'Top' | 'Bot'): string {
  const near = (at: number): number => at + 0.5 * (random() - 0.3);
  const places = [
    ...[0, 20].flatMap((x) => [0, 10].map((y) => [near(x === 0 ? 0.2 : 19.8), near(y === 0 ? 0.4 : 9.6)])),
    ...[0, 1, 2].map((k) => [8.5 + near(0.7 * k), near(0.1)]),
    ...[0, 1, 2, 3].map((k) => [10 + (1.7 + 0.3 * random()) * Math.cos(1.6 * k), 5 + 1.9 * Math.sin(1.6 * k)]),
  ];
  const flashes = places.map(([x, y], i) => `D${10 + (i % 3)}*X${round(x)}Y${round(y)}D03*`);
  return `%TF.FileFunction,Paste,${side}*%%FSLAX46Y46*%%MOMM*%%ADD10R,0.5X0.6*%%ADD11R,0.3X1.2*%%ADD12C,0.55*%\n${flashes.join('\n')}\nM02*\n`;
}

const dotsOf = (placed: readonly { stamp: Pick<Stamp, 'rows'>; column: number; row: number }[]) =>
  placed.map(({ stamp, column, row }) => [column - placed[0].column, row - placed[0].row, ...stamp.rows.flat()]);

describe('the dots of a sheet', () => {
  it('are those of correct, whatever lies on the sheet beside the paste', async () => {
    const random = seeded(23);
    let leftOut = 0;
    for (let round = 0; round < 2; round += 1) {
      const profile = JSON.parse(profileOf({}, { pitchMm: { x: round === 0 ? 0.08 : 0.05, y: 0.05 } }));
      const file = desk.put(`board${round}.gbr`, crowded(random, round === 0 ? 'Top' : 'Bot'));
      const board: Board = {
        outline: [rectangle(0, 0, 20, 10)],
        holes: [
          { x: 10, y: 5, diameterMm: 3 },
          { x: 3, y: 5, diameterMm: 1, slotTo: [3.5, 6] },
        ],
        warnings: [],
      };
      const values = { marks: true, ticks: true, witness: true, profile: '', out: '', name: 'Crowded 7' };
      const model = machineModel(profile);
      const { stencil } = await layArtwork(
        layerIn(file),
        board,
        { profile, bytes: Buffer.from(JSON.stringify(profile)) },
        values,
        processIo(),
      );
      const sheet = packSheet([stencil], { spacingMm: 5 });
      const { commanded, witness } = await commandSheet(sheet, model, profile.pitchMm, ['png'], hasWitness(model));
      expect(witness).toBeDefined();
      const parts = sheet.openings.map(({ part }) => part);
      leftOut += stencil.warnings.filter(({ code }) => code === 'LEFT_OUT_FOR_PASTE').length;
      const { corrected, image } = commanded.dots ?? {};
      const onSheet = (image?.placed ?? []).filter((_, i) => {
        const number = corrected?.numbers[i];
        return number !== undefined && parts[number - 1] === 'paste';
      });
      const alone = makeStencil(await readArtwork(desk.read(`board${round}.gbr`)), profile, { formats: ['png'] });
      expect(dotsOf(onSheet)).toEqual(dotsOf(alone.commanded.dots?.image.placed ?? []));
    }
    expect(leftOut).toBeGreaterThan(1);
  });

  it('are those of correct for every stencil of a sheet, wherever it lies', async () => {
    const profile = JSON.parse(profileOf({ shear: 0.0131 }, { pitchMm: { x: 0.05, y: 0.0331 } }));
    const loaded = { profile, bytes: Buffer.from(JSON.stringify(profile)) };
    const values = { marks: false, witness: false, profile: '', out: '' };
    const board: Board = { holes: [], warnings: [] };
    const lay = async (name: string, text: string) =>
      (await layArtwork(layerIn(desk.put(name, text)), board, loaded, values, processIo())).stencil;
    const [one, other] = [await lay('one.gbr', layer()), await lay('other.gbr', crowded(seeded(4), 'Bot'))];
    const stencils = [one, other, one, other, one];
    const model = machineModel(profile);
    const onDots = onWholeDots(stencils, model, profile.pitchMm);
    const bed = { widthMm: 120, heightMm: 170 };
    const [plain, sheet] = [
      packSheet(stencils, { spacingMm: 5, bed }),
      packSheet(stencils, { spacingMm: 5, bed, onDots }),
    ];
    const { commanded } = await commandSheet(sheet, model, profile.pitchMm, ['png'], false);
    const { corrected, image } = commanded.dots ?? {};
    const dotsOfStencil = (stencil: number) =>
      dotsOf(
        (image?.placed ?? []).filter((_, i) => {
          const { part, stencil: at } = sheet.openings[(corrected?.numbers[i] ?? 0) - 1];
          return at === stencil && part === 'paste';
        }),
      );
    for (const [k, name] of ['one', 'other', 'one', 'other', 'one'].entries()) {
      const artwork = await readArtwork(desk.read(`${name}.gbr`));
      const alone = makeStencil(artwork, profile, { formats: ['png'] }).commanded.dots?.image.placed ?? [];
      expect(dotsOfStencil(k)).toEqual(dotsOf(alone));
      const [x, y] = [0, 1].map((axis) => Math.abs(sheet.pieces[k].at[axis] - plain.pieces[k].at[axis]));
      expect(Math.max(x - 0.06, y - 0.04)).toBeLessThan(0);
    }
    expect(new Set(sheet.pieces.map(({ at }) => at[1])).size).toBeGreaterThan(1);
  });

  it('are in the image as written: every dot of the corrected stencil is burnt, and nothing else within its pads', async () => {
    const file = desk.put('board.gbr', crowded(seeded(5), 'Top'));
    const common = ['--profile', 'laser.json', '--out', 'out', '--pitch-mm', '0.05'];
    const { code } = await desk.run(`layout ${file}`, ...common, '--board-mm', '20x10', '--ticks');
    expect(code).toBe(3);
    await desk.run(`correct ${file}`, ...common);
    const read = async (name: string) => {
      const { data, info } = await sharp(desk.read(`out/${name}`))
        .greyscale()
        .raw()
        .toBuffer({ resolveWithObject: true });
      return { burnt: (x: number, y: number) => data[y * info.width + x] < 128, ...info };
    };
    const [sheet, stencil] = [await read('board.sheet.png'), await read('board.png')];
    const dots: [number, number][] = [];
    for (let y = 0; y < stencil.height; y += 1)
      for (let x = 0; x < stencil.width; x += 1) if (stencil.burnt(x, y)) dots.push([x, y]);
    const isAt = (dx: number, dy: number): boolean => dots.every(([x, y]) => sheet.burnt(x + dx, y + dy));
    // Where the stencil lies on the sheet: 15 mm of margin against 5 mm of its own, to a few dots.
    const [left, down] = [(sheet.width - stencil.width) / 2, (sheet.height - stencil.height) / 2];
    const places: [number, number][] = [];
    for (let dy = Math.floor(down) - 150; dy < down + 150; dy += 1) {
      for (let dx = Math.floor(left) - 150; dx < left + 150; dx += 1) if (isAt(dx, dy)) places.push([dx, dy]);
    }
    expect(places).toHaveLength(1);
  });
});
