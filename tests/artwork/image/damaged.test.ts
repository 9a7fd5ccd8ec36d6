import { describe, expect, it } from 'vitest';
import { readArtwork } from '../../../src/artwork/read.js';
import { isGrave } from '../../../src/cli/exit-codes.js';
import { InputError } from '../../../src/errors.js';
import { openingArea } from '../../../src/geometry/area.js';
import { seeded } from '../../virtual-laser/random.js';
import { asSharp, brightness, HEIGHT, handMadeBmp, upsideDown, WIDTH } from './pictures.js';

/** A grey TIFF with its directory first and ten strips after it (TIFF 6.0, pp. 13-19 and 39-40). */
function tiffInStrips(text = 0): Buffer {
  const rows = HEIGHT / 10;
  const entries = [
    [256, 4, 1, WIDTH],
    [257, 4, 1, HEIGHT],
    [258, 3, 1, 8],
    [259, 3, 1, 1],
    [262, 3, 1, 1],
    [273, 4, 10, 0],
    [277, 3, 1, 1],
    [278, 4, 1, rows],
    [279, 4, 10, 0],
    ...(text ? [[305, 2, 4, text]] : []),
  ];
  const lists = 8 + 2 + 12 * entries.length + 4;
  const pixels = lists + 80;
  const head = Buffer.alloc(pixels);
  head.write('II*\0\x08', 'latin1');
  head.writeUInt16LE(entries.length, 8);
  entries.forEach(([tag, type, count, value], i) => {
    const at = 10 + 12 * i;
    head.writeUInt16LE(tag, at);
    head.writeUInt16LE(type, at + 2);
    head.writeUInt32LE(count, at + 4);
    head.writeUInt32LE(tag === 273 ? lists : tag === 279 ? lists + 40 : value, at + 8);
  });
  for (let i = 0; i < 10; i += 1) {
    head.writeUInt32LE(pixels + i * rows * WIDTH, lists + 4 * i);
    head.writeUInt32LE(rows * WIDTH, lists + 40 + 4 * i);
  }
  return Buffer.concat([head, brightness()]);
}

const colour = () => asSharp().toColourspace('srgb');
const bmp = (): Buffer =>
  handMadeBmp({
    width: WIDTH,
    height: HEIGHT,
    perMetre: [10_000, 10_000],
    bits: 8,
    palette: Array.from({ length: 256 }, (_, i) => i),
    pixels: upsideDown(brightness(), HEIGHT),
  });
const FILES: readonly (readonly [string, () => Buffer | Promise<Buffer>])[] = [
  ['TIFF, directory first', tiffInStrips],
  ['TIFF, plain', () => asSharp().tiff({ compression: 'none' }).toBuffer()],
  ['TIFF, tiles', () => asSharp().tiff({ compression: 'none', tile: true, tileWidth: 64, tileHeight: 64 }).toBuffer()],
  ['TIFF, LZW', () => asSharp().tiff({ compression: 'lzw' }).toBuffer()],
  ['TIFF, deflate', () => asSharp().tiff({ compression: 'deflate' }).toBuffer()],
  ['TIFF, PackBits', () => asSharp().tiff({ compression: 'packbits' }).toBuffer()],
  ['TIFF, group 4', () => asSharp().threshold(128).tiff({ compression: 'ccittfax4', bitdepth: 1 }).toBuffer()],
  ['JPEG', () => asSharp().jpeg({ quality: 95 }).toBuffer()],
  ['progressive JPEG', () => asSharp().jpeg({ quality: 95, progressive: true }).toBuffer()],
  ['WebP', () => colour().webp({ lossless: true }).toBuffer()],
  ['lossy WebP', () => colour().webp({ quality: 95 }).toBuffer()],
  ['GIF', () => colour().gif().toBuffer()],
  ['PNG', () => asSharp().png().toBuffer()],
  ['interlaced PNG', () => asSharp().png({ progressive: true }).toBuffer()],
  ['BMP', bmp],
];

type Outcome = 'refused' | 'told' | 'right' | 'false';

/** What becomes of a file whose picture has these areas. */
async function outcomeOf(bytes: Uint8Array, areas: readonly number[]): Promise<Outcome> {
  try {
    const { openings, warnings } = await readArtwork(bytes, { dpi: 600 });
    if (warnings.some((warning) => isGrave(warning, {}))) return 'told';
    const isRight =
      openings.length === areas.length && openings.every((o, i) => Math.abs(openingArea(o) / areas[i] - 1) < 0.02);
    return isRight ? 'right' : 'false';
  } catch (error) {
    if (error instanceof InputError) return 'refused';
    throw error;
  }
}

const areasOf = async (bytes: Uint8Array): Promise<number[]> =>
  (await readArtwork(bytes, { dpi: 600 })).openings.map(openingArea);

describe('a picture file that is cut off', () => {
  it.each(FILES)('%s: every twentieth of it is refused or told of, or nothing is lost', async (_, make) => {
    const bytes = await make();
    const areas = await areasOf(bytes);
    const outcomes: Outcome[] = [];
    for (let share = 1; share < 20; share += 1)
      outcomes.push(await outcomeOf(bytes.subarray(0, (bytes.length * share) / 20), areas));
    for (const less of [1, 2, 9]) outcomes.push(await outcomeOf(bytes.subarray(0, bytes.length - less), areas));
    expect(outcomes).not.toContain('false');
    // The last bytes of some say nothing; half of a file never is the whole picture.
    expect(outcomes.slice(0, 10)).not.toContain('right');
  });
});

describe('a picture file with wrong bytes', () => {
  it('is refused where it holds checksums', async () => {
    const random = seeded(11);
    for (const name of ['PNG', 'interlaced PNG', 'TIFF, deflate']) {
      const bytes = await FILES.find(([each]) => each === name)?.[1]();
      if (!bytes) throw new Error(name);
      const areas = await areasOf(bytes);
      for (let n = 0; n < 25; n += 1) {
        const changed = Buffer.from(bytes);
        const at = 300 + Math.floor(random() * (bytes.length - 800));
        changed[at] ^= 1 + Math.floor(random() * 255);
        expect(['refused', 'told', 'right']).toContain(await outcomeOf(changed, areas));
      }
    }
  });

  it('is told of by the specks that they leave where it holds none', async () => {
    for (const bytes of [bmp(), tiffInStrips()]) {
      const areas = await areasOf(bytes);
      const changed = Buffer.from(bytes);
      changed[bytes.length - 10 * WIDTH - 20] = 0;
      expect(await outcomeOf(changed, areas)).toBe('told');
    }
  });

  it('is read where only a text beside the picture is wrong, and that is told', async () => {
    const { openings, warnings } = await readArtwork(tiffInStrips(0x41414141), { dpi: 600 });
    expect(openings).toHaveLength(3);
    expect(warnings.map(({ code }) => code)).toEqual(['IMAGE_DOUBTFUL', 'NO_CHECKSUM']);
  });

  it('that has no checksum is told of: of a changed byte nothing else may be seen', async () => {
    for (const [bytes, isTold] of [
      [await asSharp().png().toBuffer(), false],
      [await asSharp().tiff({ compression: 'deflate' }).toBuffer(), false],
      [await asSharp().tiff({ compression: 'lzw' }).toBuffer(), true],
      [await asSharp().tiff({ compression: 'none' }).toBuffer(), true],
      [await asSharp().gif().toBuffer(), true],
      [await asSharp().jpeg({ quality: 100 }).toBuffer(), true],
    ] as const) {
      const { warnings } = await readArtwork(bytes, { dpi: 600 });
      expect(warnings.some(({ code }) => code === 'NO_CHECKSUM')).toBe(isTold);
    }
  });
});
