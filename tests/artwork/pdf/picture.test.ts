import { deflateSync } from 'node:zlib';
import { PDFHexString, PDFName, type PDFRef } from 'pdf-lib';
import sharp from 'sharp';
import { describe, expect, it } from 'vitest';
import { readPdf } from '../../../src/artwork/pdf/read-pdf.js';
import { renderPage } from '../../../src/artwork/pdf/render.js';
import type { Artwork } from '../../../src/artwork/types.js';
import { openingArea } from '../../../src/geometry/area.js';
import { ringBounds } from '../../../src/geometry/bounds.js';
import { coverageOf } from '../image/trace/raster.js';
import { group3Land, JPEG_2000_LAND, toGroup4 } from './coded.js';
import { toJbig2 } from './jbig2.js';
import { makePdf } from './make-pdf.js';
import { toAscii85, toHex, toLzw, toRunLengths } from './pack.js';

const SIDE = 100;
/** A dark land of 40 x 20 pixels, 30 from the left and 10 from the top, on white. */
const isDark = (x: number, y: number): boolean => x >= 30 && x < 70 && y >= 10 && y < 30;
const grey = Buffer.from(
  Array.from({ length: SIDE * SIDE }, (_, i) => (isDark(i % SIDE, Math.floor(i / SIDE)) ? 0 : 255)),
);

const IMAGE = { Type: 'XObject', Subtype: 'Image', Width: SIDE, Height: SIDE };
type Dict = Record<string, unknown>;
/** A page that shows one picture, 20 mm wide unless the content says otherwise; with a mask that is a stream. */
function withPicture(
  data: Uint8Array,
  dict: Dict,
  content = 'q 20 0 0 20 10 12 cm /I Do Q',
  mask?: { readonly key: 'SMask' | 'Mask'; readonly data: Uint8Array; readonly dict: Dict },
): Promise<Uint8Array> {
  return makePdf(content, (page, { context }) => {
    const picture = (bytes: Uint8Array, own: Dict): PDFRef => {
      return context.register(context.stream(bytes, { ...IMAGE, ...(own as Record<string, string>) }));
    };
    const masks = mask ? { [mask.key]: picture(mask.data, mask.dict) } : {};
    page.node.setXObject(PDFName.of('I'), picture(data, { ...dict, ...masks }));
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
/** The same in samples of a power of two bits. */
const packed = (bits: number): Uint8Array => {
  if (bits === 16) return Buffer.from([...grey].flatMap((v) => [v, v]));
  const out = new Uint8Array((SIDE * SIDE * bits) / 8);
  grey.forEach((v, i) => {
    out[(i * bits) >> 3] |= (v >> (8 - bits)) << (8 - bits - ((i * bits) & 7));
  });
  return out;
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
/** Every sample less the one to its left (TIFF predictor 2). */
const differences = grey.map((v, i) => v - (i % SIDE > 0 ? grey[i - 1] : 0));
const asImage = sharp(grey, { raw: { width: SIDE, height: SIDE, channels: 1 } });
const jpeg = await asImage.clone().jpeg({ quality: 95 }).toBuffer();
const jpegOfInks = await asImage.clone().toColourspace('cmyk').jpeg({ quality: 95 }).toBuffer();
const group4 = await toGroup4(grey, SIDE, SIDE);
const FAX = { ...GREY, BitsPerComponent: 1, Filter: 'CCITTFaxDecode' };
const fax = (parameters: Dict): Dict => ({ ...FAX, DecodeParms: { Columns: SIDE, ...parameters } });

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
    ['of 2 bits', deflateSync(packed(2)), { ...GREY, BitsPerComponent: 2 }],
    ['of 4 bits', deflateSync(packed(4)), { ...GREY, BitsPerComponent: 4 }],
    ['of 16 bits', deflateSync(packed(16)), { ...GREY, BitsPerComponent: 16 }],
    ['not packed', grey, { ...GREY, Filter: undefined }],
    ['packed by LZW', toLzw(grey), { ...GREY, Filter: 'LZWDecode' }],
    ['in run lengths', toRunLengths(grey), { ...GREY, Filter: ['RunLengthDecode'] }],
    ['deflated, as text', toAscii85(deflateSync(grey)), { ...GREY, Filter: ['ASCII85Decode', 'FlateDecode'] }],
    ['with predicted samples', deflateSync(differences), { ...GREY, DecodeParms: { Predictor: 2, Columns: SIDE } }],
    [
      'with predicted rows in a chain',
      toHex(toLzw(rowsUp())),
      {
        ...GREY,
        Filter: ['ASCIIHexDecode', 'LZWDecode'],
        DecodeParms: [null, { Predictor: 12, Columns: SIDE }],
      },
    ],
    [
      'of numbered colours',
      deflateSync(packed(4)),
      {
        ...GREY,
        BitsPerComponent: 4,
        ColorSpace: ['Indexed', 'DeviceGray', 15, PDFHexString.of('00'.padEnd(32, 'f'))],
      },
    ],
    [
      'of lightness',
      deflateSync(Buffer.from([...grey].flatMap((v) => [v, 128, 128]))),
      { ...GREY, ColorSpace: ['Lab', { WhitePoint: [1, 1, 1] }] },
    ],
    ['as fax of group 4', group4, fax({ K: -1, Rows: SIDE })],
    ['as fax without rows', group4, fax({ K: -1 })],
    ['as fax of ones for black', group4, { ...fax({ K: -1, BlackIs1: true }), Decode: [1, 0] }],
    ['as fax of group 3', group3Land({}), fax({ K: 0 })],
    ['as fax with ends of lines', group3Land({ lines: '1d' }), fax({ K: 0, EndOfLine: true })],
    ['as fax whose rows begin on bytes', group3Land({ align: true }), fax({ K: 0, EncodedByteAlign: true })],
    ['as fax of mixed rows', group3Land({ lines: '2d' }), fax({ K: 4, EndOfLine: true })],
    [
      'as fax, as text',
      toAscii85(group4),
      { ...FAX, Filter: ['ASCII85Decode', 'CCITTFaxDecode'], DecodeParms: [null, { K: -1, Columns: SIDE }] },
    ],
    ['as JBIG2', toJbig2(grey, SIDE, SIDE), { ...GREY, BitsPerComponent: 1, Filter: 'JBIG2Decode' }],
    ['as a stencil in JBIG2', toJbig2(grey, SIDE, SIDE), { ImageMask: true, Filter: 'JBIG2Decode' }],
    ['as JPEG 2000', JPEG_2000_LAND, { Filter: 'JPXDecode' }],
    ['as a stencil', deflateSync(packedBits()), { ImageMask: true, BitsPerComponent: 1, Filter: 'FlateDecode' }],
    [
      'as a stencil of ones',
      deflateSync(packedBits().map((v) => 255 - v)),
      { ImageMask: true, Filter: 'FlateDecode', Decode: [1, 0] },
    ],
    [
      'as a stencil in fax',
      group4,
      { ImageMask: true, Filter: 'CCITTFaxDecode', DecodeParms: { K: -1, Columns: SIDE } },
    ],
  ])('%s is traced where its pixels lie', async (_, data, dict) => {
    const artwork = await readPdf(await withPicture(data, dict), {});
    expect(boxes(artwork)).toEqual([LAND]);
    expect(openingArea(artwork.openings[0])).toBeCloseTo(32, 6);
    expect(codes(artwork)).toEqual(['PICTURE_TRACED']);
    expect(artwork.warnings[0].message).toContain('127 dpi');
  });

  it.each<[string, Uint8Array, string]>([
    ['JPEG', jpeg, 'DeviceGray'],
    ['JPEG of printing inks', jpegOfInks, 'DeviceCMYK'],
  ])('as %s keeps its walls within 2 um', async (_, data, space) => {
    // Beside other drawing, so that the page is not one picture.
    const content = '40 5 2 2 re f q 20 0 0 20 10 12 cm /I Do Q';
    // Printing inks of a JPEG are written inverted.
    const decode = space === 'DeviceCMYK' ? { Decode: [1, 0, 1, 0, 1, 0, 1, 0] } : {};
    const file = await withPicture(data, { ...GREY, ...decode, ColorSpace: space, Filter: 'DCTDecode' }, content);
    const artwork = await readPdf(file, {});
    expect(codes(artwork)).toEqual(['PICTURE_TRACED']);
    const [land, square] = boxes(artwork).sort(([p], [q]) => p - q);
    expect(square).toEqual([40, 5, 42, 7]);
    land.forEach((value, i) => {
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
    ['rows', deflateSync(grey.subarray(0, -1)), GREY],
    ['packed data', deflateSync(packed(4)).subarray(0, -30), { ...GREY, BitsPerComponent: 4 }],
    ['a JPEG’s end', jpeg.subarray(0, -200), { ...GREY, Filter: 'DCTDecode' }],
  ])('that lacks %s is refused', async (_, data, dict) => {
    await expect(readPdf(await withPicture(data, dict), { name: 'layer.pdf' })).rejects.toMatchObject({
      code: 'PDF_BROKEN',
    });
  });

  it('that only lacks its checksum is whole', async () => {
    expect(boxes(await readPdf(await withPicture(deflateSync(grey).subarray(0, -4), GREY), {}))).toEqual([LAND]);
  });

  it('that nobody can decode is told of', async () => {
    const file = await withPicture(
      Buffer.from('no picture at all'),
      { Filter: 'JPXDecode' },
      'q 20 0 0 20 10 12 cm /I Do Q 5 5 2 2 re f',
    );
    expect(codes(await readPdf(file, {}))).toContain('PICTURE_BLANK');
  });

  it('in fax without its end is told of, unless the file says that it has none', async () => {
    const cut = group4.subarray(0, -3);
    expect(codes(await readPdf(await withPicture(cut, fax({ K: -1 })), {}))).toContain('PICTURE_CUT_OFF');
    const meant = await readPdf(await withPicture(cut, fax({ K: -1, Rows: SIDE, EndOfBlock: false })), {});
    expect(codes(meant)).toEqual(['PICTURE_TRACED']);
    expect(boxes(meant)).toEqual([LAND]);
  });

  it('of an unknown colour space is shown as the renderer shows it', async () => {
    const artwork = await readPdf(
      await withPicture(deflateSync(grey), { ...GREY, ColorSpace: 'Odd' }, '5 5 2 2 re f q 20 0 0 20 10 12 cm /I Do Q'),
      {},
    );
    expect(boxes(artwork)).toContainEqual([5, 5, 7, 7]);
  });

  it('that multiplies leaves what lies beneath', async () => {
    const file = await makePdf('/M gs 12 13 4 4 re f q 20 0 0 20 10 12 cm /I Do Q', (page, { context }) => {
      page.node.setXObject(PDFName.of('I'), context.register(context.flateStream(grey, { ...IMAGE, ...GREY })));
      page.node.Resources()?.set(PDFName.of('ExtGState'), context.obj({ M: { BM: 'Multiply' } }));
    });
    const { openings } = await readPdf(file, {});
    expect(openings.map(openingArea).reduce((sum, area) => sum + area)).toBeCloseTo(48, 6);
  });
});

describe('the walls of a grey picture', () => {
  const shapes: [number, number][][] = [
    Array.from({ length: 720 }, (_, i) => [
      45 + 20.4 * Math.cos((i * Math.PI) / 360),
      50 + 20.4 * Math.sin((i * Math.PI) / 360),
    ]),
  ];
  const soft = Uint8Array.from(coverageOf(shapes, SIDE, SIDE), (v) => Math.round(255 * (1 - v)));
  const spread = (inks: (v: number) => number[]): Uint8Array => deflateSync(Buffer.from([...soft].flatMap(inks)));
  it.each<[string, Uint8Array, Dict]>([
    ['grey', deflateSync(soft), GREY],
    [
      'grey with a curve of its own',
      deflateSync(soft),
      { ...GREY, ColorSpace: ['CalGray', { WhitePoint: [1, 1, 1], Gamma: 2.2 }] },
    ],
    ['colours', spread((v) => [v, v, v]), { ...GREY, ColorSpace: 'DeviceRGB' }],
    ['black ink', spread((v) => [0, 0, 0, 255 - v]), { ...GREY, ColorSpace: 'DeviceCMYK' }],
    ['three inks', spread((v) => [255 - v, 255 - v, 255 - v, 0]), { ...GREY, ColorSpace: 'DeviceCMYK' }],
    [
      'inks upside down',
      spread((v) => [255, 255, 255, v]),
      { ...GREY, ColorSpace: 'DeviceCMYK', Decode: [1, 0, 1, 0, 1, 0, 1, 0] },
    ],
    [
      'a spot ink',
      spread((v) => [255 - v]),
      {
        ...GREY,
        ColorSpace: [
          'Separation',
          'Spot',
          'DeviceRGB',
          { FunctionType: 2, Domain: [0, 1], C0: [1, 1, 1], C1: [1, 1, 0], N: 1 },
        ],
      },
    ],
    ['16 bits', spread((v) => [v, v]), { ...GREY, BitsPerComponent: 16 }],
  ])('in %s lie within half a hundredth of a pixel', async (_, data, dict) => {
    const { openings } = await readPdf(await withPicture(data, dict), {});
    const px = 20 / SIDE;
    const [{ minX, maxX, minY, maxY }] = openings.map(({ outer }) => ringBounds(outer));
    const asked = [10 + 24.6 * px, 10 + 65.4 * px, 32 - 70.4 * px, 32 - 29.6 * px];
    expect(openings).toHaveLength(1);
    for (const [i, value] of [minX, maxX, minY, maxY].entries())
      expect(Math.abs(value - asked[i]) / px).toBeLessThan(0.02);
    expect(Math.abs(Math.sqrt(openingArea(openings[0]) / Math.PI) / px - 20.4)).toBeLessThan(0.005);
  });
});

describe('a stencil', () => {
  const STENCIL = { ImageMask: true, BitsPerComponent: 1, Filter: 'FlateDecode' };
  const areas = ({ openings }: Artwork): string[] => openings.map((opening) => openingArea(opening).toFixed(4)).sort();
  const read = async (content: string): Promise<Artwork> =>
    readPdf(await withPicture(deflateSync(packedBits()), STENCIL, content), {});

  it('paints with the current colour and leaves the rest as it is', async () => {
    expect(areas(await read('12 13 4 4 re f q 20 0 0 20 10 12 cm /I Do Q'))).toEqual(['16.0000', '32.0000']);
    const white = '10 12 20 20 re f 1 g q 20 0 0 20 10 12 cm /I Do Q';
    expect(areas(await read(white))).toEqual(['368.0000']);
    expect(areas(await read('1 1 0 rg q 20 0 0 20 10 12 cm /I Do Q'))).toEqual(['32.0000']);
  });

  it('is clipped, turned and repeated', async () => {
    expect(boxes(await read('q 10 12 9 20 re W n 20 0 0 20 10 12 cm /I Do Q'))).toEqual([[16, 26, 19, 30]]);
    expect(boxes(await read('q 0 20 -20 0 30 12 cm /I Do Q'))).toEqual([[12, 18, 16, 26]]);
    const twice = 'q 10 0 0 10 10 12 cm /I Do Q q 10 0 0 10 30 12 cm /I Do Q';
    expect(boxes(await read(twice))).toEqual([
      [13, 19, 17, 21],
      [33, 19, 37, 21],
    ]);
  });

  it('with a pattern is left to the renderer', async () => {
    const artwork = await read('/Pattern cs /P scn q 20 0 0 20 10 12 cm /I Do Q 0 g 5 5 2 2 re f');
    expect(codes(artwork)).toContain('PDF_RENDERED');
  });

  it('lies where an independent renderer shows it', async () => {
    const content = 'q 11.3 3.1 -3.1 11.3 17.7 13.3 cm /I Do Q';
    const file = await withPicture(deflateSync(packedBits()), STENCIL, content);
    const own = await readPdf(file, {});
    const drawn = await renderPage(file, 0, own.canvas, { polarity: 'auto', pictures: true });
    expect(drawn.openings).toHaveLength(1);
    const [mine, theirs] = [own.openings[0], drawn.openings[0]].map(({ outer }) => ringBounds(outer));
    // The renderer draws slanted pictures pixel by pixel.
    for (const key of ['minX', 'minY', 'maxX', 'maxY'] as const) {
      expect(Math.abs(mine[key] - theirs[key])).toBeLessThan(0.03);
    }
  });
});

describe('an inline picture', () => {
  const latin = (bytes: Uint8Array): string => Buffer.from(bytes).toString('latin1');
  const inline = (entries: string, data: Uint8Array | string, after = ''): string =>
    `q 20 0 0 20 10 12 cm BI /W ${SIDE} /H ${SIDE} ${entries} ID ${typeof data === 'string' ? data : latin(data)} EI Q ${after}`;
  const BITS = '/BPC 1 /CS /G';

  it.each<[string, string]>([
    ['of bits', inline(BITS, packedBits())],
    ['whose data hold the mark of their end', inline(`/BPC 8 /CS [/I /G 255 <00${'ff'.repeat(255)}>]`, withMark())],
    ['of text', inline(`${BITS} /F /AHx`, toHex(packedBits()))],
    ['deflated, as text', inline(`${BITS} /F [/A85 /Fl]`, toAscii85(deflateSync(packedBits())))],
    ['as text that touches its end', inline(`${BITS} /F /AHx`, toHex(packedBits())).replace('> EI', '>EI')],
    ['as fax', inline(`${BITS} /F /CCF /DP << /K -1 /Columns ${SIDE} >>`, group4)],
    ['as a stencil', inline('/IM true', packedBits())],
    [
      'as a stencil of ones',
      inline(
        '/IM true /D [1 0]',
        packedBits().map((v) => 255 - v),
      ),
    ],
    ['of numbered colours', inline('/BPC 1 /CS [/I /RGB 1 <000000ffffff>]', packedBits())],
    ['whose length is said', inline(`/L ${SIDE * 13} ${BITS}`, packedBits())],
  ])('%s is traced where its pixels lie', async (_, content) => {
    const artwork = await readPdf(await makePdf(content), {});
    expect(boxes(artwork)).toEqual([LAND]);
    expect(codes(artwork)).toEqual(['PICTURE_TRACED']);
  });

  it('ends where it ends: what follows is drawn', async () => {
    const artwork = await readPdf(await makePdf(inline(BITS, packedBits(), '40 5 2 2 re f')), {});
    expect(boxes(artwork)).toContainEqual([40, 5, 42, 7]);
    expect(artwork.openings).toHaveLength(2);
  });
});

describe('a picture with a mask', () => {
  /** A disc's coverage, soft along its edge, of 6 mm radius in the picture's middle. */
  const disc = Uint8Array.from({ length: SIDE * SIDE }, (_, i) => {
    const away = 30 - Math.hypot((i % SIDE) + 0.5 - 50, Math.floor(i / SIDE) + 0.5 - 50);
    return Math.round(255 * Math.min(1, Math.max(0, away + 0.5)));
  });
  const DISC_MM2 = Math.PI * 36;
  const soft = { key: 'SMask' as const, data: deflateSync(disc), dict: GREY };
  const black = deflateSync(new Uint8Array(SIDE * SIDE));
  const show = 'q 20 0 0 20 10 12 cm /I Do Q';
  const total = ({ openings }: Artwork): number => openings.reduce((sum, each) => sum + openingArea(each), 0);
  const light = grey.map((v) => 255 - v);

  it('of one colour paints the mask, whatever lies beneath', async () => {
    for (const [before, area] of [
      ['', DISC_MM2],
      ['11 13 1 1 re f ', DISC_MM2 + 1],
      ['20 12 10 20 re f ', DISC_MM2 / 2 + 200],
    ] as const) {
      const artwork = await readPdf(await withPicture(black, GREY, before + show, soft), {});
      expect(codes(artwork)).toEqual(['PICTURE_TRACED']);
      expect(Math.abs(total(artwork) / area - 1)).toBeLessThan(1e-3);
    }
    const white = await withPicture(deflateSync(grey.map(() => 255)), GREY, `10 12 20 20 re f ${show}`, soft);
    expect(Math.abs(total(await readPdf(white, {})) - (400 - DISC_MM2))).toBeLessThan(0.1);
  });

  it('of one pixel is spread over its mask', async () => {
    const one = await withPicture(deflateSync(Buffer.of(0)), { ...GREY, Width: 1, Height: 1 }, show, soft);
    expect(Math.abs(total(await readPdf(one, {})) / DISC_MM2 - 1)).toBeLessThan(1e-3);
  });

  it('of several colours is flattened on bare paper, and left to the renderer on anything else', async () => {
    const bare = await readPdf(await withPicture(deflateSync(grey), GREY, `1 g 0 0 50 40 re f ${show}`, soft), {});
    expect(codes(bare)).toEqual(['PICTURE_TRACED']);
    const whole = await readPdf(await withPicture(deflateSync(light), GREY, show, soft), {});
    // The light land is a hole in the disc's upper part, where it reaches that far.
    expect(total(bare) + total(whole)).toBeGreaterThan(DISC_MM2 * 0.999);
    const over = await readPdf(await withPicture(deflateSync(grey), GREY, `12 14 8 8 re f ${show}`, soft), {});
    expect(codes(over)).toContain('PDF_RENDERED');
    const beside = await readPdf(await withPicture(deflateSync(grey), GREY, `40 5 2 2 re f ${show}`, soft), {});
    expect(codes(beside)).toEqual(['PICTURE_TRACED']);
  });

  it('of bits covers what its mask says, whatever lies beneath', async () => {
    // The mask leaves the upper half (its ones are masked out); the land lies there.
    const half = Uint8Array.from({ length: SIDE * 13 }, (_, i) => (i < 50 * 13 ? 0 : 255));
    const mask = { key: 'Mask' as const, data: deflateSync(half), dict: { ImageMask: true, Filter: 'FlateDecode' } };
    const file = await withPicture(
      deflateSync(packedBits()),
      { ...GREY, BitsPerComponent: 1 },
      `10 12 20 20 re f ${show}`,
      mask,
    );
    const artwork = await readPdf(file, {});
    expect(codes(artwork)).toEqual(['PICTURE_TRACED']);
    expect(total(artwork)).toBeCloseTo(200 + 32, 6);
  });

  it('of colours leaves what lies beneath where it has them', async () => {
    const keyed = { ...GREY, Mask: [250, 255] };
    const file = await withPicture(deflateSync(grey), keyed, `12 13 4 4 re f ${show}`);
    const artwork = await readPdf(file, {});
    expect(codes(artwork)).toEqual(['PICTURE_TRACED']);
    expect(total(artwork)).toBeCloseTo(32 + 16, 6);
    const dark = await readPdf(
      await withPicture(deflateSync(grey), { ...GREY, Mask: [0, 5] }, `10 12 20 20 re f ${show}`),
      {},
    );
    expect(total(dark)).toBeCloseTo(32, 6);
  });

  it('that only the renderer can decode is flattened on bare paper', async () => {
    const file = await withPicture(JPEG_2000_LAND, { Filter: 'JPXDecode' }, show, {
      ...soft,
      data: deflateSync(disc.map(() => 255)),
    });
    const artwork = await readPdf(file, {});
    expect(codes(artwork)).toEqual(['PICTURE_TRACED']);
    expect(boxes(artwork)).toEqual([LAND]);
  });
});

/** The land as numbers of colours, which read like the end of an inline picture at one place. */
function withMark(): Uint8Array {
  const bytes = Uint8Array.from(grey);
  bytes.set(Buffer.from(' EI Q 1 0 0 1 0 0 cm ', 'latin1'), 95 * SIDE);
  return bytes;
}
