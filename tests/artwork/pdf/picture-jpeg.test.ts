import * as lib from 'pdf-lib';
import sharp from 'sharp';
import { describe, expect, it } from 'vitest';
import { Objects } from '../../../src/artwork/pdf/objects.js';
import { jpegSamples } from '../../../src/artwork/pdf/picture-jpeg.js';
import { PictureRenderer } from '../../../src/artwork/pdf/picture-renderer.js';
import { pictureSamples } from '../../../src/artwork/pdf/picture-samples.js';
import { DamagedStream } from '../../../src/artwork/pdf/stream-errors.js';

const SIDE = 64;
/** White, with a black right half. */
const grey = Buffer.from(Array.from({ length: SIDE * SIDE }, (_, i) => (i % SIDE < 32 ? 255 : 0)));
const image = sharp(grey, { raw: { width: SIDE, height: SIDE, channels: 1 } });
const inks = await image.clone().toColourspace('cmyk').jpeg({ quality: 100 }).toBuffer();

/** Without its segment APP14. */
function withoutMark(jpeg: Buffer): Buffer {
  const at = jpeg.indexOf(Buffer.from('\xff\xee\x00\x0eAdobe', 'latin1'));
  expect(at).toBeGreaterThan(0);
  return Buffer.concat([jpeg.subarray(0, at), jpeg.subarray(at + 16)]);
}

describe('JPEGs in a PDF', () => {
  it('four inks are given as they are stored, with and without the mark of their writer', async () => {
    const marked = await jpegSamples(inks, SIDE, SIDE);
    const bare = await jpegSamples(withoutMark(inks), SIDE, SIDE);
    expect(marked?.components).toBe(4);
    expect(Buffer.compare(marked?.values ?? Buffer.of(), bare?.values ?? Buffer.of(0))).toBe(0);
    // This writer stores them upside down: no ink on white is 255.
    expect([...(marked?.values.subarray(0, 4) ?? [])]).toEqual([255, 255, 255, 255]);
    expect(marked?.values[4 * (SIDE - 1) + 3]).toBeLessThan(128);
  });

  it('four inks are shown as an independent renderer shows them', async () => {
    const { context } = await lib.PDFDocument.create();
    const renderer = new PictureRenderer(new Objects(lib));
    for (const jpeg of [inks, withoutMark(inks)]) {
      const dict = { Subtype: 'Image', Width: SIDE, Height: SIDE, ColorSpace: 'DeviceCMYK', BitsPerComponent: 8 };
      const decode = [1, 0, 1, 0, 1, 0, 1, 0];
      const stream = context.stream(jpeg, { ...dict, Filter: 'DCTDecode', Decode: decode }) as lib.PDFRawStream;
      const drawn = await renderer.draw(stream, undefined);
      const own = await pictureSamples(new Objects(lib), stream, undefined);
      expect([drawn?.grey[0], own?.grey[0]]).toEqual([255, 255]);
      for (const x of [0, 20, 40, 63]) {
        expect(Math.abs((own?.grey[x] ?? 0) - (drawn?.grey[x] ?? 255))).toBeLessThan(40);
      }
    }
    renderer.close();
  });

  it.each([
    [1, 'b-w'],
    [3, 'srgb'],
  ])('%i component(s) come as they are', async (components, space) => {
    const jpeg = await image.clone().toColourspace(space).jpeg({ quality: 100 }).toBuffer();
    const samples = await jpegSamples(jpeg, SIDE, SIDE);
    expect(samples?.components).toBe(components);
    expect(samples?.values).toHaveLength(SIDE * SIDE * components);
    expect(samples?.values[0]).toBe(255);
    expect(samples?.values[SIDE * components - 1]).toBe(0);
  });

  it('another size than the page says, and what is no JPEG, are left to the renderer; cut data are told of', async () => {
    expect(await jpegSamples(inks, SIDE, SIDE + 1)).toBeUndefined();
    expect(await jpegSamples(Buffer.from('no JPEG'), SIDE, SIDE)).toBeUndefined();
    await expect(jpegSamples(inks.subarray(0, inks.length - 60), SIDE, SIDE)).rejects.toThrow(DamagedStream);
  });
});
