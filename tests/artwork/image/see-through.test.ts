import sharp, { type Sharp } from 'sharp';
import { describe, expect, it } from 'vitest';
import { type ImageFormat, readImage } from '../../../src/artwork/image/read-image.js';
import { openingArea } from '../../../src/geometry/area.js';
import { AREAS, asSharp, brightness, HEIGHT, handMadePng, pack, WIDTH } from './pictures.js';

const DPI = { dpi: 254 };
const size = { width: WIDTH, height: HEIGHT };
/** How opaque each pixel is: the shapes, and nothing around them. */
const opacity = brightness(0, 255);
const bits = opacity.map((v) => (v >= 128 ? 1 : 0));

/** Every pixel of one colour, as opaque as the shapes say. */
function inColour(colour: readonly number[], bytes: 1 | 2 = 1): Buffer {
  const pixel = (alpha: number): number[] => [...colour, alpha].flatMap((v) => Array(bytes).fill(v));
  return Buffer.from([...opacity].flatMap(pixel));
}

async function expectShapes(bytes: Uint8Array, format: ImageFormat, share = 0.003): Promise<void> {
  const { openings, warnings } = await readImage(bytes, format, DPI);
  expect(warnings.map(({ code }) => code).filter((code) => code !== 'NO_CHECKSUM')).toEqual(['OPACITY_READ']);
  expect(openings).toHaveLength(3);
  openings.forEach((opening, i) => {
    expect(Math.abs((openingArea(opening) * 100) / AREAS[i] - 1)).toBeLessThan(share);
  });
}

describe('light openings on a see-through ground are read by what can not be seen through', () => {
  const white = [255, 255, 255];
  const raw = (rows: Buffer): Sharp => sharp(rows, { raw: { ...size, channels: 4 } });

  it.each([
    ['white', white],
    ['pale yellow', [255, 255, 0]],
    ['paler', [250, 252, 251]],
  ])('PNG, %s', async (_, colour) => {
    await expectShapes(handMadePng({ ...size, depth: 8, colour: 6, rows: inColour(colour) }), 'png');
  });

  it('PNG, grey and 16 bits', async () => {
    await expectShapes(handMadePng({ ...size, depth: 8, colour: 4, rows: inColour([255]) }), 'png');
    await expectShapes(handMadePng({ ...size, depth: 16, colour: 4, rows: inColour([255], 2) }), 'png');
    await expectShapes(handMadePng({ ...size, depth: 16, colour: 6, rows: inColour(white, 2) }), 'png');
  });

  it('PNG with a palette, or with a key', async () => {
    const rows = pack(bits, WIDTH, 1);
    const palette = [...white, ...white];
    await expectShapes(handMadePng({ ...size, depth: 1, colour: 3, rows, palette, transparency: [0] }), 'png', 0.02);
    const keyed = Buffer.from(opacity.map((v) => (v >= 128 ? 255 : 254)));
    await expectShapes(handMadePng({ ...size, depth: 8, colour: 0, rows: keyed, transparency: [0, 254] }), 'png', 0.02);
    const rgb = Buffer.from([...bits].flatMap((bit) => [255, 255, bit ? 255 : 254]));
    const transparency = [0, 255, 0, 255, 0, 254];
    await expectShapes(handMadePng({ ...size, depth: 8, colour: 2, rows: rgb, transparency }), 'png', 0.02);
  });

  it('interlaced PNG, WebP, TIFF and GIF', async () => {
    const image = raw(inColour(white));
    await expectShapes(await image.clone().png({ progressive: true }).toBuffer(), 'png');
    await expectShapes(await image.clone().webp({ lossless: true }).toBuffer(), 'webp');
    await expectShapes(await image.clone().tiff({ compression: 'lzw' }).toBuffer(), 'tiff');
    const grey = sharp(inColour([255]), { raw: { ...size, channels: 2 } });
    await expectShapes(await grey.tiff({ compression: 'lzw' }).toBuffer(), 'tiff');
    await expectShapes(await image.clone().gif().toBuffer(), 'gif', 0.02);
  });
});

describe('what is drawn stays as it is', () => {
  it('dark on a see-through ground needs no word', async () => {
    const { openings, warnings } = await readImage(
      handMadePng({ ...size, depth: 8, colour: 6, rows: inColour([90, 0, 0]) }),
      'png',
      DPI,
    );
    expect(warnings).toEqual([]);
    expect(openingArea(openings[0]) * 100).toBeCloseTo(AREAS[0], 0);
  });

  it('a faint drawing that is opaque everywhere is read as before', async () => {
    const rows = Buffer.from([...brightness(140, 100)].flatMap((v) => [v, 255]));
    const { warnings } = await readImage(handMadePng({ ...size, depth: 8, colour: 4, rows }), 'png', DPI);
    expect(warnings.map(({ code }) => code)).toEqual(['FAINT_LEVELS']);
  });

  it('levels that differ by rounding alone are no drawing', async () => {
    const nearly = await asSharp(brightness(255, 253)).png().toBuffer();
    await expect(readImage(nearly, 'png', DPI)).rejects.toMatchObject({ code: 'NOTHING_DRAWN' });
  });
});
