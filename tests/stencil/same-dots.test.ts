import sharp from 'sharp';
import { describe, expect, it } from 'vitest';
import { readArtwork } from '../../src/artwork/read.js';
import { mapOpenings, rotation } from '../../src/geometry/affine.js';
import { ringBounds } from '../../src/geometry/bounds.js';
import { move } from '../../src/geometry/copies.js';
import { ellipse, rectangle, solid } from '../../src/geometry/shapes.js';
import { machineModel } from '../../src/machine/machine-model.js';
import type { MachineModel } from '../../src/machine/types.js';
import { type Commanded, commandFor } from '../../src/stencil/command.js';
import { frameOfSheet } from '../../src/stencil/frame.js';
import { makeStencil, type StencilOptions, writeStencil } from '../../src/stencil/make-stencil.js';
import { bench, layer, profileOf } from '../cli/bench.js';

const desk = bench({
  'laser.json': profileOf(),
  'under.gbr': layer('Bot', '%ADD13R,0.9X0.4*%D13*X3000000Y4000000D03*'),
});

const run = (command: string, ...args: string[]) =>
  desk.run(`${command} under.gbr --profile laser.json --out out`, ...args);

/** Burnt dots as `column,row`, counted from the lower left one of them, of the part of an image that a box holds. */
async function dotsIn(bytes: Uint8Array, box?: { left: number; top: number; width: number; height: number }) {
  const image = sharp(bytes).greyscale().extractChannel(0);
  const { data, info } = await (box ? image.extract(box) : image).raw().toBuffer({ resolveWithObject: true });
  const dots: [number, number][] = [];
  for (let i = 0; i < data.length; i += 1) if (data[i] < 128) dots.push([i % info.width, Math.floor(i / info.width)]);
  const left = Math.min(...dots.map(([x]) => x));
  const bottom = Math.max(...dots.map(([, y]) => y));
  return { left, bottom, size: info, list: dots.map(([x, y]) => `${x - left},${bottom - y}`).sort() };
}

const library = async () => {
  const profile = JSON.parse(profileOf());
  return makeStencil(await readArtwork(desk.read('under.gbr')), profile);
};

describe('one pipeline', () => {
  it('correct and the library write the same image', async () => {
    await run('correct');
    const { bytes } = await writeStencil(await library(), { format: 'png', title: 'apertrue corrected: under' });
    expect((await dotsIn(bytes)).list).toEqual((await dotsIn(desk.read('out/under.png'))).list);
    expect((await sharp(bytes).metadata()).width).toBe((await sharp(desk.read('out/under.png')).metadata()).width);
  });

  it.each([
    ['other formats', ['--format', 'svg,png,tiff']],
    ['another margin', ['--margin-mm', '2.017']],
    ['a canvas', ['--canvas-mm', '40x30', '--at-mm', '3.01,4.003']],
  ])('%s change no dot', async (_, args) => {
    await run('correct');
    const first = await dotsIn(desk.read('out/under.png'));
    await run('correct', '--overwrite', ...args);
    expect((await dotsIn(desk.read('out/under.png'))).list).toEqual(first.list);
  });

  it('the sheet of one stencil holds the same dots', async () => {
    const model = machineModel(JSON.parse(profileOf()));
    const { asked, commanded } = await library();
    const [widthMm, heightMm] = [51.3, 42.7];
    const onSheet = commandFor(
      asked.openings.map((opening) => move(opening, 23.4567, 18.7654)),
      model,
      {
        pitchMm: { x: 0.0254, y: 0.0254 },
        formats: ['png'],
        frameFor: ({ openings }) => frameOfSheet({ widthMm, heightMm }, model, { x: 0.0254, y: 0.0254 }, openings),
      },
    );
    const placed = (of: Commanded) => {
      const dots = of.dots?.image.placed ?? [];
      return dots.map(({ stamp, column, row }) => [[...stamp.rows.flat()], column - dots[0].column, row - dots[0].row]);
    };
    expect(placed(onSheet)).toEqual(placed(commanded));
    expect(onSheet.frame.canvas.widthMm * model.scaleX).toBeGreaterThanOrEqual(widthMm);
  });

  it('predict measures the dots that correct burns', async () => {
    const { out } = await run('predict', '--json');
    const [{ inDots }] = JSON.parse(out);
    const { asked, check, commanded } = await library();
    expect(inDots.summary.rmsWidthErrorMm).toBeCloseTo(check.figures?.rmsWidthErrorMm ?? 0, 3);
    expect(inDots.summary.maxWidthErrorMm).toBeCloseTo(check.figures?.maxWidthErrorMm ?? 0, 3);
    // The film is laid on by the best turn, too, which moves the corners of pads by a little.
    expect(Math.abs(inDots.summary.meanWidthErrorMm - (check.figures?.meanWidthErrorMm ?? 0))).toBeLessThan(0.001);
    expect(inDots.openings).toHaveLength(asked.openings.length);
    // Upright pads: so many dots wide, each of the scale, and the kerf.
    commanded.dots?.image.placed.forEach(({ stamp }, i) => {
      const { cutWidthMm, cutHeightMm } = inDots.openings[i];
      expect(Math.abs(cutWidthMm - stamp.width * 0.0254 * 1.004 - 0.12)).toBeLessThan(0.2 * 0.0254);
      expect(Math.abs(cutHeightMm - stamp.height * 0.0254 * 0.997 - 0.1)).toBeLessThan(0.2 * 0.0254);
    });
  });
});

it('the canvas of a sheet is the least number of dots that holds it, across and up', () => {
  const { canvas } = frameOfSheet(
    { widthMm: 10.01, heightMm: 7.01 },
    { scaleX: 1, scaleY: 1, shear: 0, kerfXMm: 0.1, kerfYMm: 0.1 },
    { x: 0.05, y: 0.03 },
    [],
  );
  expect([canvas.widthMm / 0.05, canvas.heightMm / 0.03].map((dots) => Math.round(dots * 1e6) / 1e6)).toEqual([
    201, 234,
  ]);
});

describe('rows and dots that are not those of the coupons', () => {
  const openings = [solid(rectangle(0, 0, 1, 0.5))];
  const machine = { scaleX: 1, scaleY: 1, shear: 0, kerfXMm: 0.14, kerfYMm: 0.06 };
  const pitchMm = { x: 0.025, y: 0.025 };
  const codesOf = (known: typeof pitchMm | undefined, burnEveryNthRow?: number): string[] =>
    makeStencil(
      { openings, side: 'top' },
      { ...machine, ...(known ? { pitchMm: known } : {}) },
      { pitchMm, formats: ['png'], ...(burnEveryNthRow ? { burnEveryNthRow } : {}) },
    ).warnings.map(({ code }) => code);

  it('are told of', () => {
    expect(codesOf(undefined)).toEqual([]);
    expect(codesOf({ x: 0.0254, y: 0.0254 })).toEqual([]);
    expect(codesOf({ x: 0.025, y: 0.05 })).toEqual(['PITCH_NOT_CALIBRATED']);
    expect(codesOf(undefined, 2)).toEqual(['PITCH_NOT_CALIBRATED']);
  });

  it('are refused where film would stand between them', () => {
    expect(() => codesOf(undefined, 3)).toThrow(expect.objectContaining({ code: 'ROWS_APART' }));
  });
});

describe('how a stencil lies', () => {
  const openings = [solid(rectangle(0, 0, 1, 0.5)), solid(ellipse(5, 1, 0.4))];
  const machine = { scaleX: 1, scaleY: 1, shear: 0, kerfXMm: 0.14, kerfYMm: 0.06 };
  const pitchMm = { x: 0.05, y: 0.025 };

  it('is mirrored first and turned afterwards', () => {
    const { asked } = makeStencil({ openings, side: 'bottom' }, machine, { pitchMm, rotateDeg: 90 });
    // (5, 1) mirrored is (-5, 1), turned by 90 degrees (-1, -5); turned first it would be (1, 5).
    const box = ringBounds(asked.openings[1].outer);
    expect((box.minX + box.maxX) / 2).toBeCloseTo(-1, 6);
    expect((box.minY + box.maxY) / 2).toBeCloseTo(-5, 6);
  });

  it('with a sweep along Y the kerf turns with the image', () => {
    const sizes = (scanDirection: 'x' | 'y') =>
      makeStencil({ openings }, machine, { pitchMm, scanDirection }).commanded.dots?.image.placed.map(({ stamp }) => [
        stamp.width,
        stamp.height,
      ]) ?? [];
    const [along, across] = [sizes('x'), sizes('y')];
    // 1 - 0.14 mm are 17.2 dots of 0.05; 0.5 - 0.06 mm are 17.6 of 0.025.
    expect(along[0]).toEqual([17, 18]);
    expect(across[0]).toEqual([18, 17]);
    // The disc is no wider than its kerf leaves it: 0.8 - 0.14 across the machine's X, 0.8 - 0.06 across its Y.
    for (const [disc, [x, y]] of [
      [along[1], [0, 1]],
      [across[1], [1, 0]],
    ] as const) {
      expect(Math.abs(disc[x] * 0.05 + 0.14 - 0.8)).toBeLessThan(0.75 * 0.05);
      expect(Math.abs(disc[y] * 0.025 + 0.06 - 0.8)).toBeLessThan(0.75 * 0.025);
    }
  });

  it('a sweep along Y gives the dots of turned artwork on a machine whose axes are interchanged', () => {
    const slanted = mapOpenings(rotation(33), [...openings, solid(rectangle(2, 2, 2.3, 4)), solid(ellipse(0, 4, 0.3))]);
    const stamps = (model: MachineModel, options: StencilOptions) =>
      makeStencil({ openings: slanted }, model, options).commanded.dots?.image.placed.map(({ stamp }) => [
        stamp.height,
        ...stamp.rows.flat(),
      ]);
    const swept = stamps(machine, { pitchMm, scanDirection: 'y' });
    const { kerfXMm, kerfYMm, ...rest } = machine;
    const interchanged = { ...rest, kerfXMm: kerfYMm, kerfYMm: kerfXMm };
    const turned = { pitchMm: { x: pitchMm.y, y: pitchMm.x }, rotateDeg: 90 } as const;
    expect(swept).toEqual(stamps(interchanged, turned));
    expect(swept).not.toEqual(stamps(machine, turned));
  });
});
