import { createRequire } from 'node:module';
import sharp from 'sharp';
import { describe, expect, it } from 'vitest';
import { InputError } from '../../src/errors.js';
import { type ExportFormat, markedTitle, markIn } from '../../src/export/export-formats.js';
import type { WriteOptions } from '../../src/export/types.js';
import { writeArtwork } from '../../src/export/write.js';
import { openingArea } from '../../src/geometry/area.js';
import { ellipse, rectangle, solid } from '../../src/geometry/shapes.js';
import type { Opening, Ring } from '../../src/geometry/types.js';
import { board } from './boards.js';
import { byFastBmp, byPdfium, byResvg, bySharp, darkness, drawing, type Picture } from './read-back.js';

// The package's types and its CommonJS file disagree about the default export.
const DxfParser = createRequire(import.meta.url)('dxf-parser') as new () => {
  parseSync(text: string): {
    header: Record<string, unknown>;
    entities: { layer: string; shape: boolean; vertices: { x: number; y: number }[] }[];
  };
};

// Drawn on a pitch of 1 mm, y up. An L, a bar, and a frame with an island of film.
const L: Ring = [
  [0, 0],
  [2, 0],
  [2, 1],
  [1, 1],
  [1, 3],
  [0, 3],
];
const PIECES: Opening[] = [
  solid(L),
  solid(rectangle(3, 1, 5, 2)),
  { outer: rectangle(6, 1, 9, 4), islands: [rectangle(7, 2, 8, 3).toReversed()] },
];
const UPRIGHT = ['......###.', '#.....#.#.', '#..##.###.', '##........'];
const CANVAS = { widthMm: 10, heightMm: 4 };
const SNAPPED = { canvas: CANVAS, pitchMm: { x: 1, y: 1 }, rounding: 'snapped' } as const;

const mirrored = (rows: string[]): string[] => rows.map((row) => [...row].reverse().join(''));
const turned = (rows: string[]): string[] =>
  [...rows[0]].map((_, k) => rows.map((row) => row[row.length - 1 - k]).join(''));

const dots = async (options: Partial<WriteOptions> = {}): Promise<string[]> =>
  drawing(await bySharp((await writeArtwork(PIECES, { format: 'png', ...SNAPPED, ...options })).bytes));

const READERS: Record<string, (bytes: Uint8Array, width: number, height: number) => Promise<Picture>> = {
  png: bySharp,
  'grey-png': bySharp,
  tiff: bySharp,
  bmp: async (bytes) => byFastBmp(bytes),
  svg: async (bytes, width) => byResvg(bytes, width),
  pdf: byPdfium,
};

describe('every format shows the same picture', () => {
  const cases: [string, Partial<WriteOptions>, string[]][] = [
    ['as it is', {}, UPRIGHT],
    ['mirrored', { mirror: true }, mirrored(UPRIGHT)],
    ['turned by 90 degrees', { rotateDeg: 90 }, turned(UPRIGHT)],
    ['turned by 180 degrees', { rotateDeg: 180 }, turned(turned(UPRIGHT))],
    [
      'mirrored, then turned by 270 degrees',
      { mirror: true, rotateDeg: 270 },
      turned(turned(turned(mirrored(UPRIGHT)))),
    ],
    ['negative', { negative: true }, UPRIGHT.map((row) => row.replace(/./g, (c) => (c === '#' ? '.' : '#')))],
  ];
  for (const [format, read] of Object.entries(READERS)) {
    it.each(cases)(`${format}: %s`, async (_, options, expected) => {
      const written = await writeArtwork(PIECES, { format: format as ExportFormat, ...SNAPPED, ...options });
      expect([written.widthMm, written.heightMm]).toEqual([expected[0].length, expected.length]);
      const picture = await read(written.bytes, expected[0].length, expected.length);
      expect(drawing(picture)).toEqual(expected);
    });
  }

  it('dxf: closed polylines in mm on two layers', async () => {
    const { bytes } = await writeArtwork(PIECES, { format: 'dxf', canvas: CANVAS, rotateDeg: 90 });
    const dxf = new DxfParser().parseSync(new TextDecoder().decode(bytes));
    expect(dxf.header.$INSUNITS).toBe(4);
    const lines = dxf.entities;
    expect(lines.map(({ layer, shape }) => [layer, shape])).toEqual([
      ['OPENINGS', true],
      ['OPENINGS', true],
      ['OPENINGS', true],
      ['FILM_ISLANDS', true],
    ]);
    // Turned counter-clockwise on a canvas 4 mm high: (x, y) -> (4 - y, x).
    expect(lines[1].vertices.map(({ x, y }) => [x, y])).toEqual([
      [3, 3],
      [3, 5],
      [2, 5],
      [2, 3],
    ]);
  });
});

describe('sizes and resolution', () => {
  const openings = [solid(rectangle(1, 1, 3, 2))];

  it('PNG pHYs: 600 dpi is 23622 dots per metre (Roelofs, PNG: The Definitive Guide, chapter 11)', async () => {
    const { bytes } = await writeArtwork(openings, {
      format: 'png',
      canvas: { widthMm: 5, heightMm: 5 },
      pitchMm: { x: 25.4 / 600, y: 0.0254 },
    });
    const at = Buffer.from(bytes).indexOf('pHYs');
    const view = new DataView(bytes.buffer, bytes.byteOffset + at + 4);
    expect([view.getUint32(0), view.getUint32(4), view.getUint8(8)]).toEqual([23622, 39370, 1]);
    const { width, height, depth, density } = await sharp(bytes).metadata();
    expect({ width, height, depth }).toEqual({ width: 119, height: 197, depth: 'uchar' });
    expect(density).toBe(600);
  });

  it('BMP: 62 bytes of header, rows of four bytes, dots per metre on both axes', async () => {
    const { bytes } = await writeArtwork(openings, {
      format: 'bmp',
      canvas: { widthMm: 5, heightMm: 5 },
      pitchMm: { x: 0.1, y: 0.05 },
    });
    expect(bytes.length).toBe(62 + 100 * 8);
    expect(byFastBmp(bytes).perMetre).toEqual([10000, 20000]);
  });

  it('TIFF: group 4, dots per inch on both axes (TIFF 6.0 tags 259, 282, 283, 296)', async () => {
    const { bytes } = await writeArtwork(openings, {
      format: 'tiff',
      canvas: { widthMm: 5, heightMm: 5 },
      pitchMm: { x: 0.0254, y: 0.05 },
    });
    const view = new DataView(bytes.buffer, bytes.byteOffset);
    const tags = new Map<number, number>();
    const start = view.getUint32(4, true);
    for (let i = 0; i < view.getUint16(start, true); i += 1) {
      const entry = start + 2 + 12 * i;
      tags.set(view.getUint16(entry, true), view.getUint32(entry + 8, true));
    }
    const rational = (tag: number): number =>
      view.getUint32(tags.get(tag) as number, true) / view.getUint32((tags.get(tag) as number) + 4, true);
    expect([tags.get(259), tags.get(296), rational(282), rational(283)]).toEqual([4, 2, 1000, 508]);
    expect((await sharp(bytes).metadata()).density).toBe(1000);
  });

  it('SVG and PDF keep the area of discs and slanted shapes within 0.1 %', async () => {
    const shapes = [
      solid(ellipse(3, 3, 1.7)),
      solid([
        [6, 1],
        [9, 2.3],
        [8, 5],
        [5.5, 4],
      ] as Ring),
    ];
    const area = shapes.reduce((sum, shape) => sum + openingArea(shape), 0);
    const canvas = { widthMm: 10, heightMm: 6 };
    const svg = await writeArtwork(shapes, { format: 'svg', canvas });
    const pdf = await writeArtwork(shapes, { format: 'pdf', canvas });
    expect(darkness(byResvg(svg.bytes, 1000)) / 1e4 / area).toBeCloseTo(1, 3);
    expect(darkness(await byPdfium(pdf.bytes, 1000, 600)) / 1e4 / area).toBeCloseTo(1, 3);
    expect(new TextDecoder().decode(svg.bytes)).toContain('width="10mm" height="6mm" viewBox="0 0 10 6"');
    expect(new TextDecoder().decode(svg.bytes)).toContain('id="opening-2"');
  });

  it('PDF pages measure 72 points an inch (ISO 32000-1, 14.11.2)', async () => {
    const { bytes } = await writeArtwork(openings, { format: 'pdf', canvas: { widthMm: 215.9, heightMm: 279.4 } });
    expect(new TextDecoder('latin1').decode(bytes)).toMatch(
      /MediaBox \[ 0 0 612(\.0+\d*)? 79(2(\.0+\d*)?|1\.9+\d*) \]/,
    );
  });

  it('the canvas is filled up to whole dots at its right and upper edge', async () => {
    const written = await writeArtwork([solid(rectangle(0, 0, 1, 1))], {
      ...SNAPPED,
      format: 'png',
      canvas: { widthMm: 2.3, heightMm: 1.2 },
    });
    expect(written).toMatchObject({ widthPx: 3, heightPx: 2, widthMm: 3, heightMm: 2 });
    expect(drawing(await bySharp(written.bytes))).toEqual(['...', '#..']);
  });

  it('the origin is the place of the lower left corner', async () => {
    const rows = await dots({ originMm: [-1, -2], canvas: { widthMm: 11, heightMm: 6 } });
    expect(rows).toEqual([...UPRIGHT.map((row) => `.${row}`), '...........', '...........']);
  });
});

describe('options that machines need', () => {
  it('scan direction y turns the image and swaps the pitches', async () => {
    const written = await writeArtwork(PIECES, {
      ...SNAPPED,
      format: 'png',
      pitchMm: { x: 0.5, y: 1 },
      scanDirection: 'y',
    });
    // The image's columns are 1 mm apart, its rows 0.5 mm: each line of the turned drawing comes twice.
    expect(drawing(await bySharp(written.bytes))).toEqual(turned(UPRIGHT).flatMap((row) => [row, row]));
    const at = Buffer.from(written.bytes).indexOf('pHYs');
    const view = new DataView(written.bytes.buffer, written.bytes.byteOffset + at + 4);
    expect([view.getUint32(0), view.getUint32(4)]).toEqual([1000, 2000]);
  });

  it.each(['png', 'bmp', 'tiff', 'grey-png'] as const)(
    '%s: every third row is burnt, the middle one',
    async (format) => {
      const { bytes, heightPx } = await writeArtwork(PIECES, {
        ...SNAPPED,
        format,
        pitchMm: { x: 1, y: 1 / 3 },
        burnEveryNthRow: 3,
      });
      expect(heightPx).toBe(12);
      const film = '..........';
      const picture = format === 'bmp' ? byFastBmp(bytes) : await bySharp(bytes);
      expect(drawing(picture)).toEqual(UPRIGHT.flatMap((row) => [film, row, film]));
    },
  );

  it('grey levels per opening, film white', async () => {
    const { bytes } = await writeArtwork(PIECES, { ...SNAPPED, format: 'grey-png', grey: [10, 60, 200] });
    const { grey, width } = await bySharp(bytes);
    const at = (column: number, row: number): number => grey[row * width + column];
    expect([at(0, 3), at(3, 2), at(6, 0), at(7, 1), at(9, 3)]).toEqual([10, 60, 200, 255, 255]);
  });
});

describe('same inputs, same bytes', () => {
  const { openings, sizeMm } = board(150, 5, 0.3);
  const canvas = { widthMm: sizeMm, heightMm: sizeMm };
  it.each(['png', 'bmp', 'tiff', 'svg', 'pdf', 'dxf', 'grey-png'] as const)('%s', async (format) => {
    const options = { format, canvas, pitchMm: { x: 0.05, y: 0.05 }, title: 'board 5 <µ>' };
    const first = await writeArtwork(openings, options);
    const second = await writeArtwork(structuredClone(openings), options);
    expect(Buffer.compare(first.bytes, second.bytes)).toBe(0);
  });
});

it.each(['png', 'tiff', 'svg', 'pdf', 'grey-png'] as const)('%s says by its title what it is', async (format) => {
  const { bytes } = await writeArtwork(PIECES, { ...SNAPPED, format, title: markedTitle('a & b', 'corrected') });
  expect(markIn(bytes)).toBe('corrected');
});

describe('refusals', () => {
  const refused = async (openings: readonly Opening[], options: WriteOptions): Promise<InputError> => {
    try {
      await writeArtwork(openings, options);
    } catch (error) {
      if (error instanceof InputError) return error;
      throw error;
    }
    throw new Error('was written');
  };

  it.each(['png', 'svg'] as const)(
    '%s: openings beyond the canvas are named with how far they reach',
    async (format) => {
      const error = await refused(PIECES, {
        ...SNAPPED,
        format,
        canvas: { widthMm: 8.5, heightMm: 3 },
        pitchMm: { x: 0.5, y: 0.5 },
      });
      expect(error.code).toBe('OUTSIDE_CANVAS');
      expect(error.message).toContain('opening 3 (1.000 mm)');
      expect(error.problems[0].hint).toBeTruthy();
    },
  );

  const cases: [string, Partial<WriteOptions>, string][] = [
    ['no pitch', { pitchMm: undefined }, 'BAD_VALUE options.pitchMm'],
    ['a pitch of 0', { pitchMm: { x: 0, y: 1 } }, 'BAD_VALUE options.pitchMm'],
    ['a canvas of no width', { canvas: { widthMm: 0, heightMm: 3 } }, 'BAD_VALUE options.canvas'],
    [
      'a canvas of more dots than anything opens',
      { canvas: { widthMm: 3000, heightMm: 3000 }, pitchMm: { x: 0.01, y: 0.01 } },
      'CANVAS_TOO_LARGE canvas',
    ],
    ['an angle of 45 degrees', { rotateDeg: 45 as 90 }, 'BAD_VALUE options.rotateDeg'],
    ['a grey level of 300', { grey: 300 }, 'BAD_VALUE options.grey'],
    ['too few grey levels', { format: 'grey-png', grey: [1, 2] }, 'BAD_VALUE options.grey'],
    ['every half row', { burnEveryNthRow: 0.5 }, 'BAD_VALUE options.burnEveryNthRow'],
    ['an origin that is no number', { originMm: [Number.NaN, 0] }, 'BAD_VALUE options.originMm'],
    ['a kerf below 0', { kerfMm: { x: -0.1, y: 0.1 } }, 'BAD_VALUE options.kerfMm'],
  ];
  it.each(cases)('%s', async (_, options, what) => {
    const [{ code, place }] = (await refused(PIECES, { format: 'png', ...SNAPPED, ...options })).problems;
    expect(`${code} ${place?.key}`).toBe(what);
  });

  it('an opening with a coordinate that is no number', async () => {
    const broken = solid([
      [0, 0],
      [Number.NaN, 1],
      [1, 1],
    ] as Ring);
    expect((await refused([broken], { format: 'png', ...SNAPPED })).code).toBe('BAD_OPENING');
  });

  it('negative outlines are a warning', async () => {
    const { warnings } = await writeArtwork(PIECES, { format: 'dxf', canvas: CANVAS, negative: true });
    expect(warnings.map(({ code }) => code)).toEqual(['NEGATIVE_OUTLINES']);
  });

  it('nothing at all is written as film alone', async () => {
    for (const format of ['png', 'bmp', 'tiff', 'svg', 'pdf', 'dxf', 'grey-png'] as const) {
      expect((await writeArtwork([], { format, ...SNAPPED })).bytes.length).toBeGreaterThan(20);
    }
  });
});
