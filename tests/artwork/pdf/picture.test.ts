import { deflateSync } from 'node:zlib';
import { PDFName, type PDFRef } from 'pdf-lib';
import sharp from 'sharp';
import { describe, expect, it } from 'vitest';
import { readPdf } from '../../../src/artwork/pdf/read-pdf.js';
import type { Artwork } from '../../../src/artwork/types.js';
import { openingArea } from '../../../src/geometry/area.js';
import { ringBounds } from '../../../src/geometry/bounds.js';
import { makePdf } from './make-pdf.js';

const SIDE = 100;
/** A dark land of 40 x 20 pixels, 30 from the left and 10 from the top, on white. */
const isDark = (x: number, y: number): boolean => x >= 30 && x < 70 && y >= 10 && y < 30;
const grey = Buffer.from(
  Array.from({ length: SIDE * SIDE }, (_, i) => (isDark(i % SIDE, Math.floor(i / SIDE)) ? 0 : 255)),
);

type Dict = Record<string, unknown>;
/** A page that shows one picture, 20 mm wide unless the content says otherwise. */
function withPicture(data: Uint8Array, dict: Dict, content = 'q 20 0 0 20 10 12 cm /I Do Q'): Promise<Uint8Array> {
  return makePdf(content, (page, { context }) => {
    const stream = context.stream(data, {
      Type: 'XObject',
      Subtype: 'Image',
      Width: SIDE,
      Height: SIDE,
      ...(dict as Record<string, string>),
    });
    const ref: PDFRef = context.register(stream);
    page.node.setXObject(PDFName.of('I'), ref);
  });
}
const GREY = { ColorSpace: 'DeviceGray', BitsPerComponent: 8, Filter: 'FlateDecode' };
const boxes = ({ openings }: Artwork): number[][] =>
  openings.map(({ outer }) => {
    const { minX, minY, maxX, maxY } = ringBounds(outer);
    return [minX, minY, maxX, maxY].map((v) => Number(v.toFixed(4)));
  });
const codes = ({ warnings }: Artwork): string[] => warnings.map(({ code }) => code);
/** 40 x 20 pixels of 0.2 mm. */
const LAND = [16, 26, 24, 30];

const packedBits = (): Uint8Array => {
  const bits = new Uint8Array(SIDE * 13);
  for (let y = 0; y < SIDE; y += 1)
    for (let x = 0; x < SIDE; x += 1) if (!isDark(x, y)) bits[y * 13 + (x >> 3)] |= 0x80 >> (x & 7);
  return bits;
};
/** Every row less the one above (PNG filter 2). */
const rowsUp = (): Uint8Array => {
  const out = new Uint8Array(SIDE * (SIDE + 1));
  for (let y = 0; y < SIDE; y += 1) {
    out[y * (SIDE + 1)] = 2;
    for (let x = 0; x < SIDE; x += 1)
      out[y * (SIDE + 1) + 1 + x] = grey[y * SIDE + x] - (y > 0 ? grey[(y - 1) * SIDE + x] : 0);
  }
  return out;
};
const jpeg = await sharp(grey, { raw: { width: SIDE, height: SIDE, channels: 1 } })
  .jpeg({ quality: 95 })
  .toBuffer();

describe('a picture on a page', () => {
  it.each<[string, Uint8Array, Dict]>([
    ['grey', deflateSync(grey), GREY],
    ['inverted grey', deflateSync(grey.map((v) => 255 - v)), { ...GREY, Decode: [1, 0] }],
    ['of one bit', deflateSync(packedBits()), { ...GREY, BitsPerComponent: 1 }],
    ['with predicted rows', deflateSync(rowsUp()), { ...GREY, DecodeParms: { Predictor: 15, Columns: SIDE } }],
    ['in colour', deflateSync(Buffer.from([...grey].flatMap((v) => [v, v, v]))), { ...GREY, ColorSpace: 'DeviceRGB' }],
    [
      'in printing inks',
      deflateSync(Buffer.from([...grey].flatMap((v) => [0, 0, 0, 255 - v]))),
      { ...GREY, ColorSpace: 'DeviceCMYK' },
    ],
    ['of pale and dark grey', deflateSync(grey.map((v) => 40 + v / 2)), GREY],
  ])('%s is traced where its pixels lie', async (_, data, dict) => {
    const artwork = await readPdf(await withPicture(data, dict), {});
    expect(boxes(artwork)).toEqual([LAND]);
    expect(openingArea(artwork.openings[0])).toBeCloseTo(32, 6);
    expect(codes(artwork)).toEqual(['PICTURE_TRACED']);
    expect(artwork.warnings[0].message).toContain('127 dpi');
  });

  it('as JPEG keeps its walls within 2 um', async () => {
    const data = await withPicture(jpeg, { ...GREY, Filter: 'DCTDecode' });
    const artwork = await readPdf(data, {});
    expect(codes(artwork)).toEqual(['PICTURE_TRACED']);
    boxes(artwork)[0].forEach((value, i) => {
      expect(Math.abs(value - LAND[i])).toBeLessThan(2e-3);
    });
  });

  it('turned, mirrored and clipped lies as the page shows it', async () => {
    const data = deflateSync(grey);
    const turned = await readPdf(await withPicture(data, GREY, 'q 0 20 -20 0 30 12 cm /I Do Q'), {});
    expect(boxes(turned)).toEqual([[12, 18, 16, 26]].map(([a, b, c, d]) => [a, b, c, d]));
    const mirrored = await readPdf(await withPicture(data, GREY, 'q -20 0 0 20 30 12 cm /I Do Q'), {});
    expect(boxes(mirrored)).toEqual([LAND]);
    const clipped = await readPdf(await withPicture(data, GREY, 'q 10 12 9 20 re W n 20 0 0 20 10 12 cm /I Do Q'), {});
    expect(boxes(clipped)).toEqual([[16, 26, 19, 30]]);
  });

  it('covers what was painted before it, and is covered by what comes after', async () => {
    const content = '12 13 4 4 re f q 20 0 0 20 10 12 cm /I Do Q 1 g 18 27 1 1 re f 0 g 40 5 2 2 re f';
    const artwork = await readPdf(await withPicture(deflateSync(grey), GREY, content), {});
    expect(artwork.openings).toHaveLength(2);
    expect(artwork.openings[0].islands).toHaveLength(1);
    expect(openingArea(artwork.openings[0])).toBeCloseTo(31, 6);
  });

  it.each<[string, Uint8Array, Dict]>([
    ['cut short', deflateSync(grey.subarray(0, 5000)), GREY],
    ['with a mask of colours', deflateSync(grey), { ...GREY, Mask: [0, 10] }],
    ['of an unknown colour space', deflateSync(grey), { ...GREY, ColorSpace: 'Odd' }],
  ])('%s is left to the renderer', async (_, data, dict) => {
    const artwork = await readPdf(await withPicture(data, dict), {}).catch((error: unknown) => error);
    if (artwork instanceof Error) expect(artwork).toMatchObject({ code: 'NOTHING_DRAWN' });
    else expect(codes(artwork as Artwork)).toContain('PDF_RENDERED');
  });
});
