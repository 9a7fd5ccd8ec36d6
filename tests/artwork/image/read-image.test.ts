import { Resvg } from '@resvg/resvg-js';
import sharp, { type Sharp } from 'sharp';
import { describe, expect, it } from 'vitest';
import { type ImageFormat, readImage } from '../../../src/artwork/image/read-image.js';
import type { Artwork, ReadOptions } from '../../../src/artwork/types.js';
import { InputError } from '../../../src/errors.js';
import { crc32 } from '../../../src/export/formats/deflate.js';
import { openingArea, openingCentroid } from '../../../src/geometry/area.js';
import {
  AREAS,
  asSharp,
  brightness,
  HEIGHT,
  handMadeBmp,
  handMadePng,
  pack,
  SHAPES,
  upsideDown,
  WIDTH,
} from './pictures.js';
import { bitImage, disc, greyImage, slanted, type TestImage } from './trace/raster.js';

const AT_25_4: ReadOptions = { dpi: 25.4 * 10 };

/** Areas in pixels; the picture must have been read at 10 pixels a millimetre. */
const areas = ({ openings }: Artwork): number[] => openings.map((opening) => openingArea(opening) * 100);

function expectShapes(artwork: Artwork, share = 0.003): void {
  expect(artwork.openings).toHaveLength(3);
  areas(artwork).forEach((area, i) => {
    expect(Math.abs(area / AREAS[i] - 1)).toBeLessThan(share);
  });
}

const codes = ({ warnings }: Artwork): string[] => warnings.map(({ code }) => code);

async function codeOf(work: Promise<unknown>): Promise<string> {
  try {
    await work;
  } catch (error) {
    if (error instanceof InputError) return error.code;
    throw error;
  }
  return 'no error';
}

const grey8 = { width: WIDTH, height: HEIGHT, depth: 8, colour: 0, rows: brightness() };

describe('formats', () => {
  const written: readonly [string, ImageFormat, () => Promise<Buffer>][] = [
    ['PNG, grey', 'png', () => asSharp().png().toBuffer()],
    ['PNG, grey, adaptive filters', 'png', () => asSharp().png({ adaptiveFiltering: true }).toBuffer()],
    ['PNG, interlaced', 'png', () => asSharp().png({ progressive: true }).toBuffer()],
    ['PNG, colour', 'png', () => asSharp().toColourspace('srgb').png().toBuffer()],
    ['PNG, 16 bits', 'png', () => asSharp().toColourspace('grey16').png().toBuffer()],
    ['TIFF, uncompressed', 'tiff', () => asSharp().tiff({ compression: 'none' }).toBuffer()],
    ['TIFF, LZW', 'tiff', () => asSharp().tiff({ compression: 'lzw' }).toBuffer()],
    ['WebP, lossless', 'webp', () => asSharp().webp({ lossless: true }).toBuffer()],
    ['JPEG, best', 'jpeg', () => asSharp().jpeg({ quality: 100 }).toBuffer()],
    ['GIF', 'gif', () => asSharp().gif({ dither: 0 }).toBuffer()],
  ];
  it.each(written)('%s', async (_, format, write) => {
    expectShapes(await readImage(await write(), format, AT_25_4));
  });

  it('JPEG noise moves no edge by more than 0.02 px on average', async () => {
    const artwork = await readImage(await asSharp().jpeg({ quality: 85 }).toBuffer(), 'jpeg', AT_25_4);
    expectShapes(artwork, 0.006);
  });

  it('PNG of every filter and depth, made by hand', async () => {
    expectShapes(await readImage(handMadePng(grey8), 'png', AT_25_4));
    const levels = brightness();
    for (const depth of [2, 4]) {
      const coarse = levels.map((v) => Math.round((v * (2 ** depth - 1)) / 255));
      const rows = pack(coarse, WIDTH, depth);
      expectShapes(await readImage(handMadePng({ ...grey8, depth, rows }), 'png', AT_25_4), depth === 2 ? 0.02 : 0.005);
    }
    const deep = new Uint8Array(levels.length * 2);
    for (const [i, v] of levels.entries()) deep.set([v, v], 2 * i);
    expectShapes(await readImage(handMadePng({ ...grey8, depth: 16, rows: deep }), 'png', AT_25_4));
    const colour = new Uint8Array(levels.length * 3);
    for (const [i, v] of levels.entries()) colour.set([v, v, v], 3 * i);
    expectShapes(await readImage(handMadePng({ ...grey8, colour: 2, rows: colour }), 'png', AT_25_4));
    const palette = Array.from({ length: 256 }, (_, i) => [255 - i, 255 - i, 255 - i]).flat();
    const rows = levels.map((v) => 255 - v);
    expectShapes(await readImage(handMadePng({ ...grey8, colour: 3, palette, rows }), 'png', AT_25_4));
  });

  it('see-through parts are white', async () => {
    const rows = new Uint8Array(WIDTH * HEIGHT * 4);
    for (const [i, v] of brightness().entries()) rows.set([0, 0, 0, 255 - v], 4 * i);
    expectShapes(await readImage(handMadePng({ ...grey8, colour: 6, rows }), 'png', AT_25_4));
    const pairs = new Uint8Array(WIDTH * HEIGHT * 2);
    for (const [i, v] of brightness().entries()) pairs.set([0, 255 - v], 2 * i);
    expectShapes(await readImage(handMadePng({ ...grey8, colour: 4, rows: pairs }), 'png', AT_25_4));
  });

  it('1-bit PNG and BMP, either meaning of a set bit, come out the same', async () => {
    const open = bitImage(SHAPES, WIDTH, HEIGHT).data;
    const dark = open.map((v) => (v > 0 ? 0 : 1));
    const one = { ...grey8, depth: 1 };
    const plain = await readImage(handMadePng({ ...one, rows: pack(dark, WIDTH, 1) }), 'png', AT_25_4);
    expectShapes(plain, 0.02);
    const swapped = dark.map((v) => 1 - v);
    const palette = [255, 255, 255, 0, 0, 0];
    const others = [
      await readImage(handMadePng({ ...one, colour: 3, palette, rows: pack(swapped, WIDTH, 1) }), 'png', AT_25_4),
      await readImage(
        handMadeBmp({ ...grey8, bits: 1, palette: [0, 255], pixels: upsideDown(pack(dark, WIDTH, 1, 4), HEIGHT) }),
        'bmp',
        AT_25_4,
      ),
      await readImage(
        handMadeBmp({ ...grey8, bits: 1, palette: [255, 0], topDown: true, pixels: pack(swapped, WIDTH, 1, 4) }),
        'bmp',
        AT_25_4,
      ),
      await readImage(
        await asSharp(Buffer.from(dark.map((v) => v * 255)))
          .tiff({ compression: 'ccittfax4', bitdepth: 1 })
          .toBuffer(),
        'tiff',
        AT_25_4,
      ),
    ];
    for (const other of others) expect(other.openings).toEqual(plain.openings);
  });

  it('BMP of 4, 8, 16, 24 and 32 bits, either way up', async () => {
    const levels = brightness();
    const ramp = (count: number): number[] =>
      Array.from({ length: count }, (_, i) => Math.round((i * 255) / (count - 1)));
    const wide = (bytes: number, align: number, set: (v: number) => number[]): Uint8Array => {
      const stride = Math.ceil((WIDTH * bytes) / align) * align;
      const out = new Uint8Array(stride * HEIGHT);
      for (const [i, v] of levels.entries()) out.set(set(v), Math.floor(i / WIDTH) * stride + (i % WIDTH) * bytes);
      return out;
    };
    const five = (v: number): number => Math.round((v * 31) / 255) * 0x421;
    const kinds: readonly [number, Uint8Array, number[], number][] = [
      [
        4,
        pack(
          levels.map((v) => Math.round(v / 17)),
          WIDTH,
          4,
          4,
        ),
        ramp(16),
        0.005,
      ],
      [8, pack(levels, WIDTH, 8, 4), ramp(256), 0.003],
      [16, wide(2, 4, (v) => [five(v) & 255, five(v) >> 8]), [], 0.004],
      [24, wide(3, 4, (v) => [v, v, v]), [], 0.003],
      [32, wide(4, 4, (v) => [v, v, v, 0]), [], 0.003],
    ];
    for (const [bits, pixels, palette, share] of kinds) {
      const top = await readImage(handMadeBmp({ ...grey8, bits, palette, pixels, topDown: true }), 'bmp', AT_25_4);
      expectShapes(top, share);
      const up = handMadeBmp({ ...grey8, bits, palette, pixels: upsideDown(pixels, HEIGHT) });
      expect((await readImage(up, 'bmp', AT_25_4)).openings).toEqual(top.openings);
    }
  });

  it('run-length coded BMP', async () => {
    const code: number[] = [];
    const levels = brightness();
    for (let y = HEIGHT - 1; y >= 0; y -= 1) {
      for (let x = 0; x < WIDTH; ) {
        let run = 1;
        while (run < 255 && x + run < WIDTH && levels[y * WIDTH + x + run] === levels[y * WIDTH + x]) run += 1;
        code.push(run, levels[y * WIDTH + x]);
        x += run;
      }
      code.push(0, 0);
    }
    code.push(0, 1);
    const palette = Array.from({ length: 256 }, (_, i) => i);
    const file = handMadeBmp({ ...grey8, bits: 8, compression: 1, palette, pixels: Uint8Array.from(code) });
    expectShapes(await readImage(file, 'bmp', AT_25_4));
    expect(await codeOf(readImage(file.subarray(0, file.length - 40), 'bmp', AT_25_4))).toBe('IMAGE_DAMAGED');
  });
});

describe('size', () => {
  const png = (phys?: readonly [number, number, number]): Buffer => handMadePng({ ...grey8, phys });

  it('600 dpi is stored as 23622 pixels per metre', async () => {
    // Greg Roelofs, "PNG: The Definitive Guide" (1999), chapter 11: 600 dpi is 23622 pixels per metre.
    const { canvas, warnings } = await readImage(png([23622, 23622, 1]), 'png', {});
    expect(canvas?.widthMm).toBeCloseTo((WIDTH * 25.4) / 600, 4);
    expect(canvas?.heightMm).toBeCloseTo((HEIGHT * 25.4) / 600, 4);
    expect(warnings).toEqual([]);
  });

  it('X and Y resolution may differ', async () => {
    const { canvas, openings } = await readImage(png([10_000, 20_000, 1]), 'png', {});
    expect(canvas).toEqual({ widthMm: WIDTH / 10, heightMm: HEIGHT / 20 });
    expect(openingArea(openings[0])).toBeCloseTo(AREAS[0] / 200, 2);
  });

  it('BMP pixels per metre, TIFF, JPEG and WebP resolution', async () => {
    const bmp = handMadeBmp({
      ...grey8,
      bits: 8,
      palette: Array.from({ length: 256 }, (_, i) => i),
      perMetre: [39370, 39370],
      topDown: true,
      pixels: pack(brightness(), WIDTH, 8, 4),
    });
    const with1000 = (image: Sharp): Promise<Buffer> => image.withMetadata({ density: 1000 }).toBuffer();
    const files: [ImageFormat, Uint8Array][] = [
      ['bmp', bmp],
      [
        'tiff',
        await asSharp()
          .tiff({ compression: 'none', xres: 1000 / 25.4, yres: 1000 / 25.4 })
          .toBuffer(),
      ],
      ['jpeg', await with1000(asSharp().jpeg({ quality: 95 }))],
      ['webp', await with1000(asSharp().webp({ lossless: true }))],
      ['png', await with1000(asSharp().png())],
    ];
    for (const [format, bytes] of files) {
      const { canvas } = await readImage(bytes, format, {});
      expect(canvas?.widthMm, format).toBeCloseTo(WIDTH * 0.0254, 3);
    }
  });

  it.each<[string, ImageFormat, () => Promise<Buffer>]>([
    ['PNG without pHYs', 'png', async () => png()],
    ['PNG with an aspect only', 'png', async () => png([1, 1, 0])],
    ['PNG with a placeholder', 'png', async () => png([1000, 1000, 1])],
    ['JPEG', 'jpeg', () => asSharp().jpeg().toBuffer()],
    ['TIFF', 'tiff', () => asSharp().tiff({ compression: 'none' }).toBuffer()],
    ['WebP', 'webp', () => asSharp().webp().toBuffer()],
    ['GIF', 'gif', () => asSharp().gif().toBuffer()],
  ])('%s that states no resolution is refused, naming the three ways out', async (_, format, write) => {
    const error = await readImage(await write(), format, { name: 'a.img' }).catch((e: unknown) => e);
    expect(error).toBeInstanceOf(InputError);
    const { code, message } = error as InputError;
    expect(code).toBe('SIZE_UNKNOWN');
    for (const part of ['a.img', '--dpi', '--width-mm', '--known-distance']) expect(message).toContain(part);
  });

  it('two resolutions, a width or a known distance settle it', async () => {
    const bytes = png();
    const two = await readImage(bytes, 'png', { dpi: [254, 508] });
    expect(two.canvas?.widthMm).toBeCloseTo(24, 9);
    expect(two.canvas?.heightMm).toBeCloseTo(6, 9);
    expect((await readImage(bytes, 'png', { widthMm: 12 })).canvas?.heightMm).toBeCloseTo(6, 9);
    const known = await readImage(bytes, 'png', { knownDistance: { from: 1, to: 3, distanceMm: 14.5 } });
    const [p, , q] = known.openings.map(openingCentroid);
    expect(Math.hypot(p[0] - q[0], p[1] - q[1])).toBeCloseTo(14.5, 9);
    expect(known.canvas?.widthMm).toBeCloseTo(24, 1);
    expect(await codeOf(readImage(bytes, 'png', { knownDistance: { from: 1, to: 9, distanceMm: 5 } }))).toBe(
      'KNOWN_DISTANCE',
    );
  });

  it('an aspect in the file holds for a given width', async () => {
    const { canvas } = await readImage(png([1, 2, 0]), 'png', { widthMm: 24 });
    expect(canvas).toEqual({ widthMm: 24, heightMm: 6 });
  });

  it('what the user says wins over the file, with a word on both', async () => {
    const artwork = await readImage(png([23622, 23622, 1]), 'png', { dpi: 1000 });
    expect(artwork.canvas?.widthMm).toBeCloseTo(WIDTH * 0.0254, 9);
    expect(codes(artwork)).toEqual(['SIZE_DISAGREES']);
    expect(artwork.warnings[0].message).toMatch(/1000 dpi.*600/);
    expect((await readImage(png([23622, 23622, 1]), 'png', { dpi: 600 })).warnings).toEqual([]);
  });

  it.each([0, -5, Number.NaN])('a resolution of %d is refused', async (dpi) => {
    expect(await codeOf(readImage(png(), 'png', { dpi }))).toBe('SIZE_INVALID');
  });

  it('the origin is the lower left corner, y up', async () => {
    const [first] = (await readImage(png(), 'png', AT_25_4)).openings;
    const [x, y] = openingCentroid(first);
    expect(x).toBeCloseTo(4.03, 2);
    expect(y).toBeCloseTo((HEIGHT - 50.2) / 10, 2);
  });
});

describe('polarity', () => {
  const draw = (film: number, open: number): Promise<Buffer> => asSharp(brightness(film, open)).png().toBuffer();

  it('a negative is recognised, and said', async () => {
    const artwork = await readImage(await draw(0, 255), 'png', AT_25_4);
    expectShapes(artwork);
    expect(codes(artwork)).toEqual(['POLARITY_INFERRED']);
    expect(codes(await readImage(await draw(0, 255), 'png', { ...AT_25_4, polarity: 'light' }))).toEqual([]);
  });

  it('levels that are not full are found in the picture', async () => {
    expectShapes(await readImage(await draw(231, 48), 'png', AT_25_4), 0.005);
    const faint = await readImage(await draw(140, 100), 'png', AT_25_4);
    expectShapes(faint, 0.02);
    expect(codes(faint)).toEqual(['FAINT_LEVELS']);
  });

  it('when dark and light share area and border alike then it is refused, until told', async () => {
    const data = Buffer.alloc(WIDTH * HEIGHT, 255);
    for (let y = 0; y < HEIGHT; y += 1) data.fill(0, y * WIDTH, y * WIDTH + WIDTH / 2);
    const bytes = await asSharp(data).png().toBuffer();
    const error = await readImage(bytes, 'png', AT_25_4).catch((e: unknown) => e as InputError);
    expect(error).toMatchObject({ code: 'POLARITY_UNCLEAR' });
    expect((error as InputError).message).toContain('--polarity dark');
    expect((await readImage(bytes, 'png', { ...AT_25_4, polarity: 'dark' })).openings).toHaveLength(1);
  });

  it('a negative on a light page is refused: its islands would fall out', async () => {
    const board = slanted(120, 60, 150, 60, 0);
    const pads = Array.from({ length: 6 }, (_, i) => [...slanted(60 + 24 * i, 60, 10, 16, 0)].reverse());
    const { data } = greyImage([board, ...pads], WIDTH, HEIGHT);
    const bytes = await asSharp(Buffer.from(data.map((v) => 255 - v)))
      .png()
      .toBuffer();
    expect(await codeOf(readImage(bytes, 'png', AT_25_4))).toBe('POLARITY_UNCLEAR');
    const told = await readImage(bytes, 'png', { ...AT_25_4, polarity: 'dark' });
    expect(told.openings[0].islands).toHaveLength(6);
  });

  it.each([
    ['light', 255],
    ['dark', 0],
    ['grey', 90],
  ])('an image that is %s all over holds nothing', async (_, level) => {
    const bytes = await asSharp(Buffer.alloc(WIDTH * HEIGHT, level))
      .png()
      .toBuffer();
    expect(await codeOf(readImage(bytes, 'png', AT_25_4))).toBe('NOTHING_DRAWN');
  });
});

describe('scans', () => {
  /** Noise of a normal spread, the same each time: Box and Muller, on a linear congruential generator. */
  const noisy = (values: Uint8Array, spread: number): Buffer => {
    let seed = 7;
    const random = (): number => {
      seed = (Math.imul(seed, 1664525) + 1013904223) >>> 0;
      return (seed + 0.5) / 2 ** 32;
    };
    const normal = (): number => Math.sqrt(-2 * Math.log(random())) * Math.cos(2 * Math.PI * random());
    return Buffer.from(values.map((v) => Math.max(0, Math.min(255, Math.round(v + spread * normal())))));
  };

  it.each([false, true])(
    'a lamp that lights one side more is evened out, and said (negative: %s)',
    async (negative) => {
      const [width, height] = [720, 600];
      const rings = Array.from({ length: 30 }, (_, i) =>
        disc(60.3 + (i % 6) * 120.4, 60.2 + Math.floor(i / 6) * 119.7, 20),
      );
      const { data } = greyImage(rings, width, height);
      const lit = Buffer.from(
        data.map((v, i) => {
          const share = negative ? 1 - v / 255 : v / 255;
          const light = 250 - (60 * (i % width)) / width;
          return Math.round(light + (15 + (30 * Math.floor(i / width)) / height - light) * share);
        }),
      );
      const artwork = await readImage(await asSharp(lit, width, height).png().toBuffer(), 'png', AT_25_4);
      expect(codes(artwork)).toEqual(negative ? ['UNEVEN_LEVELS', 'POLARITY_INFERRED'] : ['UNEVEN_LEVELS']);
      expect(artwork.openings).toHaveLength(30);
      const bias = areas(artwork).map((area) => (area / (Math.PI * 400) - 1) * 20);
      expect(Math.abs(bias.reduce((sum, b) => sum + b, 0) / 30)).toBeLessThan(0.03);
      expect(Math.max(...bias.map(Math.abs))).toBeLessThan(0.12);
    },
  );

  it('a blur is told where openings are too small for it, and only there', async () => {
    const read = async (blur: number): Promise<Artwork> =>
      readImage(await asSharp().blur(blur).png().toBuffer(), 'png', AT_25_4);
    expect(codes(await readImage(await asSharp().png().toBuffer(), 'png', AT_25_4))).toEqual([]);
    expect(codes(await read(0.8))).toEqual([]);
    const blurred = await read(2.4);
    expect(codes(blurred)).toEqual(['BLURRED']);
    // A disc of 30 dots, bars 20 and 37 high as they lie; sharp's Gaussian is cut off, so that it blurs by less.
    expect(blurred.warnings[0].openings).toEqual([2]);
    const said = Number(/by about ([\d.]+) dots/.exec(blurred.warnings[0].message)?.[1]);
    expect(said).toBeGreaterThan(1.8);
    expect(said).toBeLessThan(2.5);
  });

  it('pads of less than four pixels are told of where the picture has no shades, which tell more', async () => {
    // 0.25 mm at 300 dpi, 3 pixels wide, and one of 6.
    const rings = [slanted(10.3, 10, 2.95, 9, 0), slanted(20.3, 10, 5.9, 9, 0)];
    const picture = async (image: TestImage): Promise<Artwork> =>
      readImage(
        await asSharp(Buffer.from(image.data.map((v) => 255 - v)), 32, 20)
          .png()
          .toBuffer(),
        'png',
        AT_25_4,
      );
    expect(codes(await picture(greyImage(rings, 32, 20)))).toEqual([]);
    const stepped = await picture(bitImage(rings, 32, 20));
    expect(codes(stepped)).toEqual(['FEW_PIXELS']);
    expect(stepped.warnings[0]).toMatchObject({
      openings: [1],
      message: expect.stringContaining('one pixel only (0.1 mm)'),
    });
  });

  it.each([5, 10, 20])('noise of %d levels, cut off at black and white, does not move the edges', async (spread) => {
    const read = await readImage(
      await asSharp(noisy(brightness(230, 30), spread))
        .png()
        .toBuffer(),
      'png',
      AT_25_4,
    );
    const large = read.openings.filter((opening) => openingArea(opening) > 1);
    expect(large).toHaveLength(3);
    const mean = large.reduce((sum, opening, i) => sum + (openingArea(opening) * 100) / AREAS[i] - 1, 0) / 3;
    expect(Math.abs(mean)).toBeLessThan(0.003);
  });
});

describe('what was drawn', () => {
  const frame = (cx: number, cy: number, w: number, h: number, line: number): ReturnType<typeof slanted>[] => [
    slanted(cx, cy, w, h, 0),
    [...slanted(cx, cy, w - 2 * line, h - 2 * line, 0)].reverse(),
  ];
  const read = async (rings: readonly ReturnType<typeof slanted>[], more: ReadOptions = {}): Promise<Artwork> => {
    const { data } = greyImage(rings, WIDTH, HEIGHT);
    return readImage(
      await asSharp(Buffer.from(data.map((v) => 255 - v)))
        .png()
        .toBuffer(),
      'png',
      { ...AT_25_4, ...more },
    );
  };

  it('outlines of one width are filled, and said', async () => {
    const artwork = await read([
      ...frame(40, 60, 40, 30, 2),
      ...frame(110, 60, 30, 60, 2),
      ...frame(180, 60, 50, 24, 2),
    ]);
    expect(codes(artwork)).toEqual(['OUTLINES_FILLED']);
    expect(areas(artwork).map(Math.round)).toEqual([1200, 1800, 1200]);
  });

  it.each([1, 1.5, 2, 3])(
    'outlines %d px wide by another renderer are filled, also slanted and round ones',
    async (line) => {
      const svg = `<svg xmlns="http://www.w3.org/2000/svg" width="400" height="160"><rect width="400" height="160" fill="#fff"/><g fill="none" stroke="#000" stroke-width="${line}"><rect x="30" y="40" width="60" height="30"/><circle cx="150" cy="60" r="20"/><rect x="210" y="30" width="24" height="60" rx="12"/><rect x="-30" y="-12" width="60" height="24" transform="translate(320 70) rotate(30)"/></g></svg>`;
      const artwork = await readImage(await sharp(Buffer.from(svg)).png().toBuffer(), 'png', AT_25_4);
      expect(codes(artwork)).toContain('OUTLINES_FILLED');
      const grown = line / 2;
      const truth = [
        (60 + line) * (30 + line),
        Math.PI * (20 + grown) ** 2,
        36 * (24 + line) + Math.PI * (12 + grown) ** 2,
        (60 + line) * (24 + line),
      ];
      areas(artwork).forEach((area, i) => {
        expect(Math.abs(area / truth[i] - 1)).toBeLessThan(line < 2 ? 0.05 : 0.02);
      });
    },
  );

  /** Frames whose lines fall on the grid in many ways, also around small shapes and slanted ones. */
  const outlines = (line: number): ReturnType<typeof slanted>[] =>
    [
      [30.2, 30.4, 40, 24, 0],
      [80.7, 30.1, 12.3, 10.6, 0],
      [130.5, 30.5, 36, 22, 30],
      [190.3, 30.8, 30.4, 14.5, 0],
      [30.6, 90.3, 24.5, 40.2, 0],
      [80.1, 90.9, 44.3, 20.7, 17],
      [140.4, 90.5, 28.8, 28.8, 0],
      [200.9, 90.2, 40.5, 30.3, 0],
    ].flatMap(([cx, cy, w, h, deg]) => [
      slanted(cx, cy, w + line, h + line, deg),
      [...slanted(cx, cy, w - line, h - line, deg)].reverse(),
    ]);

  it.each([1.4, 2.36, 3.5, 4.2])('outlines %d px wide without grey are filled', async (line) => {
    const { data } = bitImage(outlines(line), WIDTH, HEIGHT);
    const rows = pack(
      data.map((v) => (v === 0 ? 1 : 0)),
      WIDTH,
      1,
    );
    const artwork = await readImage(
      handMadePng({ width: WIDTH, height: HEIGHT, depth: 1, colour: 0, rows }),
      'png',
      AT_25_4,
    );
    expect(codes(artwork)).toContain('OUTLINES_FILLED');
    const left = artwork.warnings.find(({ code }) => code === 'OUTLINES_LEFT')?.openings ?? [];
    artwork.openings.forEach(({ islands }, i) => {
      if (!left.includes(i + 1)) expect(islands).toEqual([]);
    });
  });

  it('an outline that is broken among closed ones is named', async () => {
    const artwork = await read([
      ...frame(30, 60, 40, 30, 2),
      ...frame(80, 60, 30, 60, 2),
      ...frame(120, 60, 30, 60, 2),
      ...frame(160, 60, 30, 60, 2),
      slanted(220, 60, 2, 40, 0),
    ]);
    expect(codes(artwork)).toEqual(['OUTLINES_FILLED', 'OUTLINES_LEFT', 'FEW_PIXELS']);
    expect(artwork.warnings[1].openings).toHaveLength(1);
  });

  it('islands in filled artwork stay', async () => {
    const artwork = await read([...frame(40, 60, 40, 30, 2), slanted(110, 60, 30, 60, 0), slanted(180, 60, 50, 24, 0)]);
    expect(codes(artwork)).toEqual([]);
    expect(artwork.openings.map(({ islands }) => islands.length)).toEqual([1, 0, 0]);
    const thick = await read([...frame(60, 60, 60, 60, 18), ...frame(160, 60, 60, 60, 18)]);
    expect(thick.openings.map(({ islands }) => islands.length)).toEqual([1, 1]);
  });

  it('specks go only on request, and are counted', async () => {
    const rings = [slanted(60, 60, 40, 40, 0), slanted(120, 60, 3, 3, 0), slanted(140, 60, 2, 4, 0)];
    expect((await read(rings)).openings).toHaveLength(3);
    const artwork = await read(rings, { dropSpecksMm: 0.5 });
    expect(artwork.openings).toHaveLength(1);
    expect(codes(artwork)).toEqual(['SPECKS_DROPPED']);
    expect(artwork.warnings[0].message).toContain('2 opening(s)');
    expect(await codeOf(read(rings, { dropSpecksMm: 50 }))).toBe('NOTHING_DRAWN');
  });

  it('openings at the border are closed along it, and named', async () => {
    const artwork = await read([
      slanted(0, 60, 40, 30, 0).map(([x, y]): [number, number] => [Math.max(0, x), y]),
      disc(150, 60, 20),
    ]);
    expect(codes(artwork)).toEqual(['OPENINGS_AT_BORDER']);
    expect(artwork.warnings[0].openings).toEqual([1]);
    expect(artwork.warnings[0].hint).toContain('with a margin');
    expect(areas(artwork)[0]).toBeCloseTo(600, 0);
  });

  it('an opening as large as the image may be the ground, and is told as such', async () => {
    const artwork = await read([disc(150, 60, 20)], { polarity: 'light' });
    expect(artwork.warnings.map(({ hint }) => hint).join()).toContain('--polarity dark or light');
  });
});

/** Reference: resvg and librsvg (in sharp), two independent renderers of the same drawing. */
describe('drawings by other renderers', () => {
  const svg = `<svg xmlns="http://www.w3.org/2000/svg" width="400" height="200" viewBox="0 0 400 200"><rect width="400" height="200" fill="#fff"/><circle cx="60.3" cy="100.2" r="12.5"/><rect x="120.4" y="80.3" width="60.7" height="25.6"/><rect x="-30" y="-12" width="60" height="24" transform="translate(270.3 100.6) rotate(33)"/></svg>`;
  const truth = [Math.PI * 12.5 ** 2, 60.7 * 25.6, 60 * 24];
  // Both draw circles a little small (0.6 %), so what they drew is compared as well as what was meant.
  const columns = [
    [20, 100],
    [100, 200],
    [220, 330],
  ];
  it.each<[string, () => Promise<Buffer>]>([
    ['resvg', async () => Buffer.from(new Resvg(svg).render().asPng())],
    ['librsvg', () => sharp(Buffer.from(svg)).png().toBuffer()],
  ])('%s', async (_, render) => {
    const bytes = await render();
    const artwork = await readImage(bytes, 'png', AT_25_4);
    const raw = await sharp(bytes).flatten({ background: '#fff' }).toColourspace('b-w').raw().toBuffer();
    expect(artwork.openings).toHaveLength(3);
    areas(artwork).forEach((area, k) => {
      let drawn = 0;
      for (let y = 0; y < 200; y += 1)
        for (let x = columns[k][0]; x < columns[k][1]; x += 1) drawn += (255 - raw[y * 400 + x]) / 255;
      expect(Math.abs(area / drawn - 1)).toBeLessThan(0.001);
      expect(Math.abs(area / truth[k] - 1)).toBeLessThan(0.008);
    });
  });
});

describe('damaged files', () => {
  it('a cut-off file of every format is refused', async () => {
    const files: [ImageFormat, Buffer][] = [
      ['png', await asSharp().png().toBuffer()],
      ['tiff', await asSharp().tiff({ compression: 'none' }).toBuffer()],
      ['jpeg', await asSharp().jpeg().toBuffer()],
      ['webp', await asSharp().webp({ lossless: true }).toBuffer()],
      ['gif', await asSharp().gif().toBuffer()],
      [
        'bmp',
        handMadeBmp({
          ...grey8,
          bits: 8,
          palette: Array.from({ length: 256 }, (_, i) => i),
          topDown: true,
          pixels: pack(brightness(), WIDTH, 8, 4),
        }),
      ],
    ];
    for (const [format, bytes] of files)
      for (const share of [0.1, 0.5, 0.9])
        expect(
          await codeOf(readImage(bytes.subarray(0, bytes.length * share), format, AT_25_4)),
          `${format} ${share}`,
        ).toMatch(/^IMAGE_/);
  });

  it('a wrong checksum is refused', async () => {
    const bytes = Buffer.from(handMadePng(grey8));
    bytes[bytes.length - 30] ^= 1;
    expect(await codeOf(readImage(bytes, 'png', AT_25_4))).toBe('IMAGE_DAMAGED');
  });

  it('a canvas of more than 1.2 thousand million pixels is refused before it is unpacked', async () => {
    const bomb = handMadePng({ width: 60_000, height: 30_000, depth: 1, colour: 0, rows: new Uint8Array(30_000) });
    expect(await codeOf(readImage(bomb, 'png', AT_25_4))).toBe('IMAGE_TOO_LARGE');
    const short = handMadePng({ width: 20_000, height: 20_000, depth: 8, colour: 0, rows: new Uint8Array(20_000) });
    expect(await codeOf(readImage(short, 'png', AT_25_4))).toBe('IMAGE_DAMAGED');
  });

  it('an interlaced PNG, which has to be held whole, is refused earlier', async () => {
    const bytes = Buffer.from(handMadePng(grey8));
    bytes.writeUInt32BE(20_000, 16);
    bytes.writeUInt32BE(10_000, 20);
    bytes[28] = 1;
    bytes.writeUInt32BE(crc32(bytes.subarray(12, 29)), 29);
    expect(await codeOf(readImage(bytes, 'png', AT_25_4))).toBe('IMAGE_TOO_LARGE');
  });

  it('noise is refused, not traced', async () => {
    let state = 1;
    const noise = Buffer.from(
      Uint8Array.from({ length: 1400 * 1400 }, () => ((state = (state * 48271) % 2147483647) & 1) * 255),
    );
    expect(
      await codeOf(
        readImage(await asSharp(noise, 1400, 1400).png().toBuffer(), 'png', { ...AT_25_4, polarity: 'dark' }),
      ),
    ).toBe('IMAGE_TOO_BUSY');
  });
});

describe('pads in colour', () => {
  // Grey that is even in light puts red walls 3.3 um too far out at 1000 dpi.
  it.each(['png', 'tiff', 'jpeg', 'webp', 'gif'] as const)('of a %s file lie where black ones do', async (format) => {
    const [film, ...inks] = [
      [255, 255, 255],
      [255, 0, 0],
      [0, 0, 255],
      [150, 75, 0],
    ];
    const image = greyImage([slanted(30.3, 25.7, 24.2, 11.6, 31)], 64, 64);
    for (const ink of inks) {
      const data = Uint8Array.from(
        [...image.data].flatMap((v) => film.map((level, i) => Math.round((level * (255 - v) + ink[i] * v) / 255))),
      );
      const packing = {
        png: { palette: true, dither: 0 },
        tiff: { compression: 'deflate' },
        jpeg: { quality: 98, chromaSubsampling: '4:4:4' },
        webp: { lossless: true },
        gif: { dither: 0 },
      } as const;
      const bytes = await sharp(data, { raw: { width: 64, height: 64, channels: 3 } })
        .toFormat(format, packing[format])
        .toBuffer();
      const { openings } = await readImage(bytes, format, { dpi: 127 });
      expect(openings).toHaveLength(1);
      // Area over its outline: how far out the walls lie, pixels.
      expect(Math.abs(openingArea(openings[0]) / 0.2 ** 2 - 24.2 * 11.6) / (2 * (24.2 + 11.6))).toBeLessThan(0.02);
    }
  });
});

describe('a PNG of which Exif says how it lies', () => {
  it.each([
    ['rows that are unpacked here', 'b-w', false],
    ['rows of the decoder', 'srgb', true],
  ] as const)('is told of, since programs turn it or do not: %s', async (_name, space, alpha) => {
    const lying = async (orientation: number): Promise<Artwork> => {
      const picture = asSharp().toColourspace(space).withMetadata({ orientation });
      const bytes = await (alpha ? picture.ensureAlpha() : picture).png().toBuffer();
      return readImage(bytes, 'png', AT_25_4);
    };
    const codes = ({ warnings }: Artwork): string[] => warnings.map(({ code }) => code);
    const [upright, mirrored] = [await lying(1), await lying(2)];
    expect(codes(upright)).toEqual([]);
    expect(codes(mirrored)).toEqual(['IMAGE_DOUBTFUL']);
    expect(mirrored.openings).toEqual(upright.openings);
  });
});
