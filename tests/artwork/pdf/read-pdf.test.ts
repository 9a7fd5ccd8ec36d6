import fc from 'fast-check';
import { degrees, PDFName, PDFNumber, StandardFonts } from 'pdf-lib';
import sharp from 'sharp';
import { describe, expect, it } from 'vitest';
import { readPdf } from '../../../src/artwork/pdf/read-pdf.js';
import { renderPage } from '../../../src/artwork/pdf/render.js';
import type { Artwork, ReadOptions } from '../../../src/artwork/types.js';
import { isGrave } from '../../../src/cli/exit-codes.js';
import { InputError } from '../../../src/errors.js';
import { writeArtwork } from '../../../src/export/write.js';
import { openingArea } from '../../../src/geometry/area.js';
import { ringBounds } from '../../../src/geometry/bounds.js';
import { rectangle } from '../../../src/geometry/shapes.js';
import type { Opening } from '../../../src/geometry/types.js';
import { cases } from '../../cases.js';
import { greyImage } from '../image/trace/raster.js';
import { makePdf, POINTS_PER_MM } from './make-pdf.js';

const areaOf = (openings: readonly Opening[]): number => openings.reduce((sum, each) => sum + openingArea(each), 0);
const codes = ({ warnings }: Artwork): string[] => warnings.map(({ code }) => code);
const codeOf = async (bytes: Uint8Array, options: ReadOptions = {}): Promise<string> => {
  try {
    await readPdf(bytes, options);
  } catch (error) {
    if (error instanceof InputError) return error.code;
    throw error;
  }
  return 'none';
};

const form = async (page: Parameters<NonNullable<Parameters<typeof makePdf>[1]>>[0]): Promise<void> => {
  const { context } = page.doc;
  const stream = context.stream('0 0 10 10 re f', {
    Type: 'XObject',
    Subtype: 'Form',
    BBox: [0, 0, 5, 5],
    Matrix: [2, 0, 0, 1, 1, 1],
  });
  page.node.setXObject(PDFName.of('F1'), context.register(stream));
};

describe('areas by mathematics, and as pdfium, an independent renderer, draws them', () => {
  const table: [string, string, number, number][] = [
    ['rectangles', '5 5 10 10 re f 20 5 .25 20 re f', 2, 105],
    ['curves c, v and y', '10 10 m 20 10 20 20 10 20 c h f 30 10 m 35 20 40 10 v f 30 25 m 30 35 40 30 y f*', 3, 120],
    ['the even-odd rule', '5 5 20 20 re 10 10 5 5 re f*', 1, 375],
    ['strokes with miter joins', '1 w 10 10 m 20 10 l 20 20 l S', 1, 20.25 - 0.25 + 0.25 - 0.25],
    ['round caps and joins', '1 w 1 J 1 j 10 10 m 20 10 l 20 20 l S', 1, 20 + Math.PI / 4 + Math.PI / 16 - 0.25],
    ['square caps', '2 J 1 w 10 10 m 20 10 l S', 1, 11],
    ['dashes', '1 w [2 1] 0 d 10 10 m 20 10 l S', 4, 7],
    ['a width in the graphics state of a scaled space', 'q 2 0 0 2 0 0 cm 1 w 5 5 m 10 5 l S Q', 1, 20],
    ['white over black', '5 5 10 10 re f 1 g 8 8 4 4 re f 0 g 9 9 2 2 re f', 2, 88],
    ['all device colours', '0 0 0 1 k 5 5 5 5 re f 1 0 0 rg 15 5 5 5 re f /DeviceGray cs 0.3 sc 35 5 5 5 re f', 3, 75],
    ['a rectangular clip', 'q 5 5 10 10 re W n 0 0 12 50 re f Q', 1, 70],
    ['a triangular clip', 'q 30 20 m 40 20 l 35 30 l h W n 25 20 20 5 re f Q', 1, 37.5],
    ['fill and stroke at once', '1 w 10 10 4 4 re B', 1, 25],
  ];
  it.each(table)('%s', async (_, content, count, area) => {
    const bytes = await makePdf(content);
    const { openings, canvas } = await readPdf(bytes, {});
    expect(openings).toHaveLength(count);
    expect(Math.abs(areaOf(openings) / area - 1)).toBeLessThan(2e-4);
    const rendered = await renderPage(bytes, 0, canvas, { polarity: 'auto' });
    expect(rendered.openings).toHaveLength(count);
    // The narrowest shapes are the worst: 0.5 um on each side of a 0.25 mm bar is 4e-3.
    expect(Math.abs(areaOf(rendered.openings) / area - 1)).toBeLessThan(4e-3);
  });

  it('keeps the points of straight shapes to the last digits', async () => {
    const { bounds } = await readPdf(await makePdf('5.1 5.2 10.3 10.4 re f'), {});
    expect(bounds?.minX).toBeCloseTo(5.1, 10);
    expect(bounds?.minY).toBeCloseTo(5.2, 10);
    expect(bounds?.maxX).toBeCloseTo(15.4, 10);
    expect(bounds?.maxY).toBeCloseTo(15.6, 10);
  });

  it('renders rectangles without growing them to whole pixels', async () => {
    const bytes = await makePdf('5.013 5.007 10 10 re f 20.005 5 .3 20 re f');
    const { openings } = await renderPage(bytes, 0, { widthMm: 50, heightMm: 40 }, { polarity: 'auto' });
    const width = ({ outer }: Opening): number =>
      Math.max(...outer.map(([x]) => x)) - Math.min(...outer.map(([x]) => x));
    const widths = openings.map(width).sort((p, q) => p - q);
    expect(Math.abs(widths[0] - 0.3)).toBeLessThan(2e-3);
    expect(Math.abs(widths[1] - 10)).toBeLessThan(2e-3);
    expect(Math.abs(areaOf(openings) - 106)).toBeLessThan(0.02);
  });
});

describe('pages', () => {
  it('turned pages lie as a viewer shows them', async () => {
    const bytes = await makePdf('5 5 10 20 re f', (page) => page.setRotation(degrees(90)));
    const { canvas, bounds } = await readPdf(bytes, {});
    expect(canvas).toEqual({ widthMm: 40, heightMm: 50 });
    const { openings } = await renderPage(bytes, 0, canvas, { polarity: 'auto' });
    expect(Math.min(...openings[0].outer.map(([x]) => x))).toBeCloseTo(bounds?.minX ?? 0, 2);
    expect(Math.min(...openings[0].outer.map(([, y]) => y))).toBeCloseTo(bounds?.minY ?? 0, 2);
  });

  it('the crop box is the canvas', async () => {
    const mm = 72 / 25.4;
    const bytes = await makePdf('15 15 10 20 re f', (page) => page.setCropBox(10 * mm, 10 * mm, 30 * mm, 28 * mm));
    const { canvas, bounds } = await readPdf(bytes, {});
    expect(canvas?.widthMm).toBeCloseTo(30, 9);
    expect(bounds?.minX).toBeCloseTo(5, 9);
    expect(bounds?.minY).toBeCloseTo(5, 9);
  });

  it('a user unit makes the page larger (ISO 32000-1, table 30)', async () => {
    const bytes = await makePdf('5 5 10 10 re f', (page) => {
      page.node.set(PDFName.of('UserUnit'), PDFNumber.of(2));
    });
    const { canvas, openings } = await readPdf(bytes, {});
    expect(canvas?.widthMm).toBeCloseTo(100, 9);
    expect(areaOf(openings)).toBeCloseTo(400, 6);
  });

  it('of several pages one is taken only when the others are empty', async () => {
    const empty = await makePdf('5 5 10 10 re f', (_, document) => document.addPage());
    expect(codes(await readPdf(empty, {}))).toEqual(['PAGE_TAKEN']);
    const two = await makePdf('5 5 10 10 re f', (_, document) =>
      document.addPage().drawRectangle({ x: 72, y: 72, width: 72, height: 36 }),
    );
    expect(await codeOf(two)).toBe('PAGE_NOT_CHOSEN');
    expect(areaOf((await readPdf(two, { page: 2 })).openings)).toBeCloseTo((25.4 * 25.4) / 2, 6);
    expect(await codeOf(two, { page: 3 })).toBe('PAGE_UNKNOWN');
  });

  it('a given width or distance overrides the page', async () => {
    const bytes = await makePdf('5 5 10 10 re f 25 5 10 10 re f');
    expect(areaOf((await readPdf(bytes, { widthMm: 100 })).openings)).toBeCloseTo(800, 6);
    const known = await readPdf(bytes, { knownDistance: { from: 1, to: 2, distanceMm: 10 } });
    expect(areaOf(known.openings)).toBeCloseTo(50, 6);
  });
});

describe('what is not a path', () => {
  it('forms are drawn where their matrix puts them, within their box', async () => {
    const bytes = await makePdf('q 1 0 0 1 5 5 cm /F1 Do Q', form);
    const { bounds } = await readPdf(bytes, {});
    expect([bounds?.minX, bounds?.minY, bounds?.maxX, bounds?.maxY].map((n) => n?.toFixed(6))).toEqual([
      '6.000000',
      '6.000000',
      '16.000000',
      '11.000000',
    ]);
  });

  it('text is left out with a word', async () => {
    const bytes = await makePdf('5 5 10 10 re f', async (page, document) =>
      page.drawText('TOP', { x: 90, y: 60, size: 10, font: await document.embedFont(StandardFonts.Helvetica) }),
    );
    const artwork = await readPdf(bytes, {});
    expect(artwork.openings).toHaveLength(1);
    expect(codes(artwork)).toContain('TEXT_LEFT_OUT');
  });

  it('pages with see-through pictures on other things are rendered and traced, and it is said', async () => {
    const raw = Buffer.alloc(300 * 300 * 4, 254);
    for (let i = 0; i < raw.length / 2; i += 1) if (i % 4 < 3) raw[i] = 0;
    const png = await sharp(raw, { raw: { width: 300, height: 300, channels: 4 } })
      .png()
      .toBuffer();
    const bytes = await makePdf('5 5 10 10 re f 35.3 7.1 1 1 re f', async (page, document) =>
      page.drawImage(await document.embedPng(png), { x: 100, y: 20, width: 20, height: 20 }),
    );
    const artwork = await readPdf(bytes, {});
    expect(codes(artwork)).toContain('PDF_RENDERED');
    expect(artwork.openings).toHaveLength(2);
    // 3 um along the dark half's 21 mm of edge.
    expect(Math.abs(areaOf(artwork.openings) - 100 - ((20 * 25.4) / 72) ** 2 / 2)).toBeLessThan(0.065);
  });

  it.each([300, 600])('a page that is one picture of %i dpi is traced by its own pixels', async (dpi) => {
    const px = 25.4 / dpi;
    const [width, height] = [Math.round(30 / px), Math.round(20 / px)];
    const shape = rectangle(4.003 / px, 5.01 / px, 6.306 / px, 6.513 / px);
    const { data } = greyImage([shape], width, height);
    const png = await sharp(
      data.map((v) => 255 - v),
      { raw: { width, height, channels: 1 } },
    )
      .png()
      .toBuffer();
    const bytes = await makePdf('', async (page, document) =>
      page.drawImage(await document.embedPng(png), {
        x: 7.1 * POINTS_PER_MM,
        y: 3.3 * POINTS_PER_MM,
        width: width * px * POINTS_PER_MM,
        height: height * px * POINTS_PER_MM,
      }),
    );
    const { openings } = await readPdf(bytes, {});
    expect(openings).toHaveLength(1);
    const { minX, maxX, minY, maxY } = ringBounds(openings[0].outer);
    const upper = height * px + 3.3;
    const asked = [7.1 + 4.003, 7.1 + 6.306, upper - 6.513, upper - 5.01];
    for (const [i, value] of [minX, maxX, minY, maxY].entries()) expect(Math.abs(value - asked[i])).toBeLessThan(0.001);
  });

  it('a group that is switched off is not drawn (ISO 32000-1, section 8.11)', async () => {
    const bytes = await makePdf('5 5 10 10 re f /OC /Off BDC 20 5 10 10 re f EMC', (page, document) => {
      const { context } = document;
      const group = context.register(context.obj({ Type: 'OCG' }));
      page.node.Resources()?.set(PDFName.of('Properties'), context.obj({ Off: group }));
      document.catalog.set(PDFName.of('OCProperties'), context.obj({ OCGs: [group], D: { OFF: [group] } }));
    });
    expect((await readPdf(bytes, {})).openings).toHaveLength(1);
  });

  it.each([
    [undefined, 'OnOff', 1],
    ['AnyOn', 'OffOff', 0],
    ['AllOn', 'OnOff', 0],
    ['AnyOff', 'OnOff', 1],
    ['AnyOff', 'OnOn', 0],
    ['AllOff', 'OnOff', 0],
    ['AllOff', 'OffOff', 1],
  ])('a membership of policy %s with groups %s shows %i (ISO 32000-1, table 99)', async (P, states, shown) => {
    const bytes = await makePdf('5 5 10 10 re f /OC /M BDC 20 5 10 10 re f EMC', (page, document) => {
      const { context } = document;
      const groups = ['a', 'b'].map(() => context.register(context.obj({ Type: 'OCG' })));
      const off = groups.filter((_, i) => /^(On|Off)(On|Off)$/.exec(states)?.[i + 1] === 'Off');
      const membership = { Type: 'OCMD', OCGs: groups, ...(P ? { P } : {}) };
      page.node.Resources()?.set(PDFName.of('Properties'), context.obj({ M: membership }));
      document.catalog.set(PDFName.of('OCProperties'), context.obj({ OCGs: groups, D: { OFF: off } }));
    });
    expect((await readPdf(bytes, {})).openings).toHaveLength(1 + shown);
  });

  it.each([
    ['to be printed', 4, 'ANNOTATION_LEFT_OUT'],
    ['hidden', 2, undefined],
    ['not for the screen', 32, undefined],
  ])('an annotation with a picture, %s (ISO 32000-1, section 12.5.3)', async (_, F, code) => {
    const bytes = await makePdf('5 5 10 10 re f', (page, { context }) => {
      const N = context.register(context.stream('0 0 9 9 re f', { Subtype: 'Form', BBox: [0, 0, 9, 9] }));
      page.node.set(PDFName.of('Annots'), context.obj([{ Subtype: 'Square', Rect: [60, 60, 90, 90], F, AP: { N } }]));
    });
    const { warnings } = await readPdf(bytes, {});
    expect(warnings.filter((warning) => isGrave(warning, {})).map((each) => each.code)).toEqual(code ? [code] : []);
  });

  it.each([
    ['Square', 'ANNOTATION_LEFT_OUT'],
    ['Ink', 'ANNOTATION_LEFT_OUT'],
    ['Link', undefined],
    ['Text', undefined],
  ])('an annotation without a picture: %s', async (Subtype, code) => {
    const bytes = await makePdf('5 5 10 10 re f', (page, { context }) => {
      page.node.set(PDFName.of('Annots'), context.obj([{ Subtype, Rect: [60, 60, 90, 90], IC: [0, 0, 0] }]));
    });
    const { warnings } = await readPdf(bytes, {});
    expect(warnings.filter((warning) => isGrave(warning, {})).map((each) => each.code)).toEqual(code ? [code] : []);
  });

  it.each(['/None Do', '/None gs'])('a name that leads nowhere is told: %s', async (operator) => {
    const { openings, warnings } = await readPdf(await makePdf(`5 5 10 10 re f ${operator}`), {});
    expect(openings).toHaveLength(1);
    expect(warnings.filter((warning) => isGrave(warning, {})).map(({ code }) => code)).toEqual(['PDF_MISSING']);
  });

  it('a group that can be seen through stays so whatever its parts say (ISO 32000-1, section 11.6.6)', async () => {
    const bytes = await makePdf('5 5 10 10 re f /Clear gs /F Do', (page, { context }) => {
      const F = context.stream('/Full gs 20 5 10 10 re f', {
        Subtype: 'Form',
        BBox: [0, 0, 50, 50],
        Group: { S: 'Transparency' },
      });
      page.node.setXObject(PDFName.of('F'), context.register(F));
      page.node.Resources()?.set(PDFName.of('ExtGState'), context.obj({ Clear: { ca: 0 }, Full: { ca: 1 } }));
    });
    expect((await readPdf(bytes, {})).openings).toHaveLength(1);
  });

  it('the ink named None is never put down (ISO 32000-1, section 8.6.6.4)', async () => {
    const bytes = await makePdf('5 5 10 10 re f /S cs 1 scn 20 5 10 10 re f', (page, { context }) => {
      const tint = { FunctionType: 2, Domain: [0, 1], C0: [1], C1: [0], N: 1 };
      const S = context.obj([
        PDFName.of('Separation'),
        PDFName.of('None'),
        PDFName.of('DeviceGray'),
        context.obj(tint),
      ]);
      page.node.Resources()?.set(PDFName.of('ColorSpace'), context.obj({ S }));
    });
    expect((await readPdf(bytes, {})).openings).toHaveLength(1);
  });

  it('what texts cut out is drawn by the renderer', async () => {
    const bytes = await makePdf(
      '5 5 10 10 re f q BT /F1 9 Tf 7 Tr 25 10 Td (I) Tj ET 20 5 20 20 re f Q',
      async (page, document) => {
        page.node.setFontDictionary(PDFName.of('F1'), (await document.embedFont(StandardFonts.Helvetica)).ref);
      },
    );
    const { openings, warnings } = await readPdf(bytes, {});
    expect(warnings).toContainEqual(expect.objectContaining({ code: 'PDF_RENDERED' }));
    expect(areaOf(openings)).toBeLessThan(120);
  });

  it.each([
    ['an empty page', '', 'NOTHING_DRAWN'],
    ['a shape that lacks a number', '5 5 10 re f', 'PDF_BROKEN'],
    ['a list of lists without end', `5 5 10 10 re f ${'[ 1 '.repeat(20_000)}`, 'PDF_BROKEN'],
    ['a shape with a number too many', '5 5 10 1 0 re f', 'PDF_BROKEN'],
    ['a shape with a name among its numbers', '5 /5 10 10 re f', 'PDF_BROKEN'],
    ['a shape without the operator that makes it', '5 5 10 10 re f 20 5 10 10 f', 'PDF_BROKEN'],
    ['a line that begins nowhere', '5 5 l 15 5 l 15 15 l f', 'PDF_BROKEN'],
    ['a colour that lacks a number', '5 5 10 10 re f 1 1 rg 7 7 2 2 re f', 'PDF_BROKEN'],
    ['a shape that is never painted', '5 5 10 10 re f 20 5 10 10 re', 'PDF_BROKEN'],
    ['a text without end', '5 5 10 10 re f (5 5 re f', 'PDF_BROKEN'],
  ])('%s is refused', async (_, content, code) => {
    expect(await codeOf(await makePdf(content))).toBe(code);
  });

  it.each([
    ['a state that is never restored', 'q 5 5 10 10 re f', 'PDF_UNBALANCED'],
    ['a state that was never saved', '5 5 10 10 re f Q Q', 'PDF_UNBALANCED'],
    ['a path across a change of colour', '5 5 5 10 re 0 g 10 5 5 10 re f', 'PDF_UNBALANCED'],
    ['a marked part without end', '5 5 10 10 re f /Span BMC', 'PDF_UNBALANCED'],
    ['a number with two points', '5 5 10.1.2 10 re f', 'PDF_OPERATOR'],
    ['a bracket alone', '5 5 10 10 re f ] n', 'PDF_OPERATOR'],
    ['a clip without a path', 'q W n 5 5 10 10 re f Q', 'PDF_OPERATOR'],
  ])('%s is told of', async (_, content, code) => {
    const artwork = await readPdf(await makePdf(content), {});
    expect(artwork.openings).toHaveLength(1);
    expect(codes(artwork)).toEqual([code]);
  });

  it('a part that lost some of its bytes is told of: what stood there may have been shapes', async () => {
    const whole = await makePdf('5 5 10 10 re f\n25 5 10 10 re f', undefined, { plain: true });
    const text = Buffer.from(whole).toString('latin1').replace('25 5 10 10 re f', '');
    const { openings, warnings } = await readPdf(Buffer.from(text, 'latin1'), {});
    expect(openings).toHaveLength(1);
    expect(warnings.filter(isGrave).map(({ code }) => code)).toEqual(['PDF_DAMAGED']);
  });

  it('a file whose structure the renderer has to mend is told of: it does not say what it leaves out', async () => {
    const whole = await makePdf('5 5 10 10 re f', undefined, { plain: true });
    const text = Buffer.from(whole).toString('latin1').replace('endobj', 'endobj\n9 0 obj << /A ] >>\nendobj');
    const { openings, warnings } = await readPdf(Buffer.from(text, 'latin1'), {});
    expect(openings).toHaveLength(1);
    expect(warnings.map(({ code }) => code)).toEqual(['PDF_RENDERED', 'PDF_DAMAGED']);
    expect(warnings.filter((warning) => isGrave(warning, {}))).toHaveLength(1);
  });

  it('a file that was cut off is refused', async () => {
    const bytes = await makePdf('5 5 10 10 re f');
    expect(await codeOf(bytes.slice(0, bytes.length - 40))).toBe('FILE_CUT_OFF');
  });
});

describe('the project’s own PDF', () => {
  it.each([false, true])('comes back to the last digit written (negative: %s)', async (negative) => {
    const openings = Array.from({ length: 60 }, (_, i): Opening => {
      const [x, y] = [2 + (i % 10) * 3, 2 + Math.floor(i / 10) * 3];
      return {
        outer: [
          [x, y],
          [x + 1.23457, y + 0.1],
          [x + 1, y + 2.3],
        ],
        islands: [],
      };
    });
    const { bytes } = await writeArtwork(openings, { format: 'pdf', canvas: { widthMm: 40, heightMm: 30 }, negative });
    const read = await readPdf(bytes, {});
    expect(read.openings).toHaveLength(60);
    read.openings.forEach(({ outer }, i) => {
      for (const [x, y] of outer) {
        const nearest = Math.min(...openings[i].outer.map(([px, py]) => Math.hypot(px - x, py - y)));
        expect(nearest).toBeLessThan(1e-9);
      }
    });
  });
});

describe('changed bytes', () => {
  it('end in openings or in an InputError', async () => {
    const content = 'q 5 5 9 9 re W n 0 0 12 50 re f Q 1 w [2 1] 0 d 5 30 m 45 30 l S 30 10 m 35 20 40 10 v f /F1 Do';
    const bases = [
      await makePdf(content, form, { plain: true }),
      await makePdf(content, form, { objectStreams: true }),
    ];
    let seed = 20;
    const random = (below: number): number => {
      seed = (seed * 1664525 + 1013904223) >>> 0;
      return Math.floor((seed / 2 ** 32) * below);
    };
    const ends = new Set<string>();
    for (let i = 0; i < cases(40); i += 1) {
      const bytes = Uint8Array.from(bases[i % 2]);
      for (let k = random(4); k >= 0; k -= 1)
        bytes[random(bytes.length)] = random(2) === 0 ? random(256) : 48 + random(10);
      const end = await codeOf(random(8) === 0 ? bytes.slice(0, random(bytes.length)) : bytes);
      ends.add(end);
    }
    expect(ends.has('none')).toBe(true);
  });

  it('in a page’s content are told of wherever another reader could see something else', async () => {
    const content =
      'q 5 5 19 29 re W n 10 10 12 15 re f Q 1 w [2 1] 0 d 5 30 m 45 30 l S 30 10 m 35 20 40 10 28 5 c f ';
    const base = Buffer.from(await makePdf(content, undefined, { plain: true }));
    const [from, to] = [base.indexOf(content), base.indexOf(content) + content.length];
    const { openings } = await readPdf(base, {});
    await fc.assert(
      fc.asyncProperty(fc.integer({ min: from, max: to - 1 }), fc.integer({ min: 0, max: 255 }), async (at, byte) => {
        const [was, is] = [base[at], byte].map((code) => String.fromCharCode(code));
        // A digit or operator (5Tc, 5sc) for another, or none, and a comment: nothing tells these from what was meant.
        const isPart = /[\d\s\0.+-]/;
        fc.pre(
          !/[%Ts]/.test(is) && !(isPart.test(was) && isPart.test(is)) && !(/[a-z]/i.test(was) && /[a-z\s\0]/i.test(is)),
        );
        const bytes = Uint8Array.from(base);
        bytes[at] = byte;
        const read = await readPdf(bytes, {}).catch((error: unknown) => error);
        if (read instanceof InputError) return;
        const { openings: found, warnings } = read as Artwork;
        if (warnings.length === 0) expect(found).toEqual(openings);
      }),
      { numRuns: cases(80) },
    );
  });
});
