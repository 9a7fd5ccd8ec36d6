import { deflateSync } from 'node:zlib';
import { describe, expect, it } from 'vitest';
import { readImage } from '../../../src/artwork/image/read-image.js';
import { openingCentroid } from '../../../src/geometry/area.js';
import { boundsOf } from '../../../src/geometry/bounds.js';
import type { Box } from '../../../src/geometry/types.js';
import { brightness, HEIGHT, WIDTH } from './pictures.js';

interface Parts {
  readonly width: number;
  readonly height: number;
  readonly pixels: Uint8Array;
  readonly big?: boolean;
  readonly little?: boolean;
  readonly orientation?: number;
  readonly dpi?: number;
  readonly pictures?: number;
  readonly planes?: number;
  /** Of a floating-point number a pixel, in the same order of bytes. */
  readonly float?: boolean;
  /** How the strip is packed, and whether each byte's lowest bit comes first. */
  readonly compression?: number;
  readonly lowestFirst?: boolean;
}

/** A grey TIFF of one strip, by TIFF 6.0 (1992), or BigTIFF (from memory). */
function handMadeTiff({
  width,
  height,
  pixels,
  big = false,
  little = true,
  orientation = 1,
  dpi = 254,
  pictures = 1,
  planes = 1,
  float = false,
  compression = 1,
  lowestFirst = false,
}: Parts): Buffer {
  const number = (bytes: number, value: number): Buffer => {
    const out = Buffer.alloc(bytes);
    if (bytes === 8) little ? out.writeBigUInt64LE(BigInt(value)) : out.writeBigUInt64BE(BigInt(value));
    else little ? out.writeUIntLE(value, 0, bytes) : out.writeUIntBE(value, 0, bytes);
    return out;
  };
  const word = big ? 8 : 4;
  const head = big ? 16 : 8;
  const rationalAt = head + pixels.length + (pixels.length & 1);
  const directory = rationalAt + 8;
  const rational = Buffer.concat([number(4, dpi), number(4, 1)]);
  const entry = (tag: number, type: number, value: Buffer): Buffer =>
    Buffer.concat([number(2, tag), number(2, type), number(word, 1), value, Buffer.alloc(word - value.length)]);
  const short = (tag: number, value: number): Buffer => entry(tag, 3, number(2, value));
  const long = (tag: number, value: number): Buffer => entry(tag, 4, number(4, value));
  const ratio = (tag: number): Buffer => entry(tag, 5, big ? rational : number(4, rationalAt));
  const entries = [
    long(256, width),
    long(257, height),
    short(258, float ? 32 : 8),
    short(259, compression),
    short(262, 1),
    ...(lowestFirst ? [short(266, 2)] : []),
    long(273, head),
    short(274, orientation),
    short(277, planes),
    long(278, height),
    long(279, pixels.length),
    ratio(282),
    ratio(283),
    short(284, Math.min(planes, 2)),
    short(296, 2),
    ...(float ? [short(339, 3)] : []),
  ];
  const list = Buffer.concat([number(big ? 8 : 2, entries.length), ...entries]);
  // All pictures have the same pixels.
  const directories = Array.from({ length: pictures }, (_, i) => {
    const next = i + 1 < pictures ? directory + (i + 1) * (list.length + word) : 0;
    return Buffer.concat([list, number(word, next)]);
  });
  return Buffer.concat([
    Buffer.from(little ? 'II' : 'MM'),
    number(2, big ? 43 : 42),
    big ? Buffer.concat([number(2, 8), number(2, 0)]) : Buffer.alloc(0),
    number(word, directory),
    pixels,
    Buffer.alloc(pixels.length & 1),
    rational,
    ...directories,
  ]);
}

/** Where the pixel of column x and row y of the file is shown (TIFF 6.0, page 36). */
const SHOWN: Readonly<Record<number, (x: number, y: number) => [number, number]>> = {
  1: (x, y) => [x, y],
  2: (x, y) => [WIDTH - 1 - x, y],
  3: (x, y) => [WIDTH - 1 - x, HEIGHT - 1 - y],
  4: (x, y) => [x, HEIGHT - 1 - y],
  5: (x, y) => [y, x],
  6: (x, y) => [WIDTH - 1 - y, x],
  7: (x, y) => [WIDTH - 1 - y, HEIGHT - 1 - x],
  8: (x, y) => [y, HEIGHT - 1 - x],
};

describe('TIFF', () => {
  it.each([true, false])(
    'with grey and opacity in planes of their own, which come out striped, is refused',
    async (little) => {
      const file = handMadeTiff({ width: WIDTH, height: HEIGHT, pixels: brightness(), planes: 2, little });
      await expect(readImage(file, 'tiff', {})).rejects.toMatchObject({ code: 'IMAGE_UNSUPPORTED' });
    },
  );

  it.each([1, 255])('of floating-point levels from 0 to %d is read as the same picture in bytes', async (most) => {
    const floats = Float32Array.from(brightness(), (level) => (level / 255) * most);
    const pixels = new Uint8Array(floats.buffer);
    const { openings } = await readImage(
      handMadeTiff({ width: WIDTH, height: HEIGHT, pixels, float: true }),
      'tiff',
      {},
    );
    const plain = await readImage(handMadeTiff({ width: WIDTH, height: HEIGHT, pixels: brightness() }), 'tiff', {});
    expect(openings).toEqual(plain.openings);
  });

  it.each([1, 2, 3, 4, 5, 6, 7, 8])('orientation %d is undone', async (orientation) => {
    const [width, height] = orientation >= 5 ? [HEIGHT, WIDTH] : [WIDTH, HEIGHT];
    const upright = brightness();
    const pixels = new Uint8Array(width * height);
    for (let y = 0; y < height; y += 1)
      for (let x = 0; x < width; x += 1) {
        const [column, row] = SHOWN[orientation](x, y);
        pixels[y * width + x] = upright[row * WIDTH + column];
      }
    for (const big of [false, true]) {
      const { openings, canvas } = await readImage(
        handMadeTiff({ width, height, pixels, orientation, big }),
        'tiff',
        {},
      );
      expect(canvas?.widthMm).toBeCloseTo(WIDTH / 10, 6);
      const [x, y] = openingCentroid(openings[0]);
      expect(x).toBeCloseTo(4.03, 2);
      expect(y).toBeCloseTo((HEIGHT - 50.2) / 10, 2);
    }
  });

  it('a BigTIFF of either byte order says its resolution', async () => {
    for (const little of [true, false]) {
      const bytes = handMadeTiff({ width: WIDTH, height: HEIGHT, pixels: brightness(), big: true, little, dpi: 1000 });
      const { canvas, openings } = await readImage(bytes, 'tiff', {});
      expect(canvas?.widthMm).toBeCloseTo(WIDTH * 0.0254, 9);
      expect(openings).toHaveLength(3);
    }
  });
});

it('of several pictures in a file the first is read, and that is said', async () => {
  const { openings, warnings } = await readImage(
    handMadeTiff({ width: WIDTH, height: HEIGHT, pixels: brightness(), pictures: 2 }),
    'tiff',
    {},
  );
  expect(openings).toHaveLength(3);
  expect(warnings.map(({ code }) => code)).toEqual(['FIRST_PICTURE', 'NO_CHECKSUM']);
  expect(warnings[0].message).toContain('2 pictures');
});

/** TIFF 6.0 (1992), p. 32: FillOrder 2. */
it('a strip of which each byte lies the other way round is read, and told of as one without a checksum', async () => {
  const pixels = Buffer.alloc(20 * 10, 255);
  for (let y = 3; y < 7; y += 1) pixels.fill(0, 20 * y + 5, 20 * y + 15);
  const turned = deflateSync(pixels).map((byte) => Number.parseInt([...byte.toString(2).padStart(8, '0')].reverse().join(''), 2)); // biome-ignore format: one thought
  const bytes = handMadeTiff({ width: 20, height: 10, pixels: turned, compression: 8, lowestFirst: true });
  const { openings, warnings } = await readImage(bytes, 'tiff', {});
  const { minX, minY, maxX, maxY } = boundsOf(openings) as Box;
  expect([minX, minY, maxX, maxY].map((mm) => mm.toFixed(3))).toEqual(['0.500', '0.300', '1.500', '0.700']);
  expect(warnings.map(({ code }) => code)).toEqual(['NO_CHECKSUM']);
});
