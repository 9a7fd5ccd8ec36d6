import { inflateSync } from 'node:zlib';
import { PDFDocument, PDFRawStream } from 'pdf-lib';
import { describe, expect, it } from 'vitest';
import { BUILT_IN_PATTERNS } from '../../src/coupon/built-in.js';
import type { DimensionalFeature } from '../../src/coupon/features.js';
import { generateCoupon } from '../../src/coupon/generate.js';
import { newPdf, pdfFonts } from '../../src/pdf-file.js';
import type { ProjectGauge } from '../../src/project/project.js';
import { writeWorksheet } from '../../src/report/worksheet/worksheet.js';

const MM = 72 / 25.4;

/** The drawing operators of all pages, inflated. */
async function operatorsOf(bytes: Uint8Array): Promise<string> {
  const document = await PDFDocument.load(bytes);
  return document.context
    .enumerateIndirectObjects()
    .filter(([, object]) => object instanceof PDFRawStream)
    .map(([, object]) => Buffer.from(inflateSync((object as PDFRawStream).contents)).toString('latin1'))
    .join('\n');
}

/** Tips of the arrows in the order of drawing: the first corner of every triangle in the arrows' colour. */
function arrowTips(operators: string): [number, number][] {
  const triangles = operators.matchAll(/^0 0\.27 0\.6 rg ([\d.]+) ([\d.]+) m [\d.]+ [\d.]+ l [\d.]+ [\d.]+ l h f\*$/gm);
  return [...triangles].map(([, x, y]) => [Number(x) / MM, Number(y) / MM]);
}

function texts(operators: string): { words: string; sizePt: number }[] {
  return [...operators.matchAll(/ ([\d.]+) Tf .*? T[dm] <([0-9A-F]*)> Tj ET/g)].map(([, size, hex]) => ({
    sizePt: Number(size),
    words: Buffer.from(hex, 'hex').toString('latin1'),
  }));
}

type Stretch = readonly [number, number, number, number];

interface Written {
  readonly words: string;
  /** Corners of what the letters cover. */
  readonly ring: readonly (readonly [number, number])[];
}

/** Names in the drawings of a page, with what they cover, and the straight lines by their colours; mm. */
async function namesAndLines(operators: string) {
  const fonts = await pdfFonts(await newPdf('widths'));
  const names = [
    ...operators.matchAll(
      /^BT 0 0 0 rg (\/\S+) 6 Tf (?:(\S+) (\S+) \S+ \S+ )?(\S+) (\S+) T[dm] <([0-9A-F]*)> Tj ET$/gm,
    ),
  ].flatMap(([, key, cos = '1', sin = '0', x, y, hex]): Written[] => {
    const words = Buffer.from(hex, 'hex').toString('latin1');
    if (!/^[A-Z]+\d[\w-]*$/.test(words)) return [];
    const width = (key.startsWith('/Bold') ? fonts.bold : fonts.plain).widthOfTextAtSize(words, 6) / MM;
    const at = (along: number, up: number) =>
      [
        Number(x) / MM + Number(cos) * along - Number(sin) * up,
        Number(y) / MM + Number(sin) * along + Number(cos) * up,
      ] as const;
    return [{ words, ring: [at(0, 0), at(width, 0), at(width, 1.5), at(0, 1.5)] }];
  });
  const lines = [...operators.matchAll(/^(\S+ \S+ \S+) RG (\S+) w (\S+) (\S+) m (\S+) (\S+) l S$/gm)].map(
    ([, colour, width, ...ends]) => {
      const [x0, y0, x1, y1] = ends.map((v) => Number(v) / MM);
      return { blue: colour === '0 0.27 0.6', hair: Number(width) < 0.1 * MM, line: [x0, y0, x1, y1] as Stretch };
    },
  );
  return { names, arrows: lines.filter(({ blue }) => blue), leaders: lines.filter(({ blue, hair }) => hair && !blue) };
}

function cross([ax, ay, bx, by]: Stretch, [cx, cy, dx, dy]: Stretch): boolean {
  const turn = (px: number, py: number, qx: number, qy: number, rx: number, ry: number): number =>
    (qx - px) * (ry - py) - (qy - py) * (rx - px);
  return (
    turn(ax, ay, bx, by, cx, cy) * turn(ax, ay, bx, by, dx, dy) < 0 &&
    turn(cx, cy, dx, dy, ax, ay) * turn(cx, cy, dx, dy, bx, by) < 0
  );
}

const sidesOf = ({ ring }: Written): Stretch[] =>
  ring.map(([x, y], i) => [x, y, ...ring[(i + 1) % 4]] as unknown as Stretch);

/** The sides of all boxes of a page. */
const framesOf = (page: string): Stretch[] =>
  [...page.matchAll(/ RG 0\.425 w (\S+) (\S+) (\S+) (\S+) re S/g)].flatMap((found) => {
    const [x, y, w, h] = found.slice(1).map((v) => Number(v) / MM);
    return [
      [x, y, x + w, y],
      [x, y + h, x + w, y + h],
      [x, y, x, y + h],
      [x + w, y, x + w, y + h],
    ] as Stretch[];
  });

describe('names in the drawings', () => {
  // The ruler's names are the crowded ones: what keeps leaders apart shows on the long and the large beds.
  it.each([
    ['scale-ruler', 60, 40],
    ['scale-ruler', 110, 110],
    ['scale-ruler', 150, 100],
    ['scale-ruler', 600, 90],
    ['scale-ruler', 700, 500],
    ['scale-ruler', 900, 60],
    ['aperture-ladder', 60, 40],
    ['aperture-ladder', 150, 100],
    ['aperture-ladder', 100, 300],
    ['aperture-ladder', 400, 300],
  ])(
    '%s for %d x %d mm: none lies on another, on a line or the frame; no leaders cross',
    async (name, widthMm, heightMm) => {
      const coupon = await generateCoupon(name, { widthMm, heightMm, pitchXMm: 0.0254 });
      const document = await PDFDocument.load(await writeWorksheet(coupon));
      const pages = (await operatorsOf(await document.save()))
        .split(/(?=^BT 0 0 0 rg \S+ 12 Tf)/m)
        .filter((page) => page.includes('Tj'));
      expect(pages).toHaveLength(document.getPageCount());
      const bad: string[] = [];
      let seen = 0;
      for (const page of pages) {
        const { names, arrows, leaders } = await namesAndLines(page);
        seen += names.length;
        const frames = framesOf(page);
        names.forEach((one, i) => {
          const sides = sidesOf(one);
          for (const other of names.slice(i + 1))
            if (sides.some((side) => sidesOf(other).some((edge) => cross(side, edge))))
              bad.push(`${one.words} on ${other.words}`);
          if (sides.some((side) => frames.some((edge) => cross(side, edge)))) bad.push(`${one.words} on a frame`);
          for (const { line } of leaders)
            if (sides.filter((side) => cross(side, line)).length > 1) bad.push(`${one.words} under a leader`);
          // Its own line runs through its middle, from end to end.
          const through = arrows.filter(({ line }) => sides.some((side) => cross(side, line)));
          if (through.some(({ line }) => cross(sides[0], line) || cross(sides[2], line)))
            bad.push(`${one.words} across a line`);
          if (through.length > 1) bad.push(`${one.words} on ${through.length} lines`);
        });
        leaders.forEach(({ line }, i) => {
          if (leaders.slice(i + 1).some((other) => cross(line, other.line))) bad.push(`leaders cross at ${line}`);
        });
      }
      expect(seen).toBeGreaterThanOrEqual(coupon.features.features.length);
      expect(bad).toEqual([]);
    },
  );

  it('a name whose line runs along the frame stands beside it', async () => {
    const coupon = await generateCoupon('scale-ruler', { widthMm: 1200, heightMm: 900, pitchXMm: 0.0254 });
    const all = await operatorsOf(await writeWorksheet(coupon));
    const pages = all.split(/(?=^BT 0 0 0 rg \S+ 12 Tf)/m);
    const onFrames = pages.map(async (page) => {
      const { names } = await namesAndLines(page);
      return names.filter((one) => sidesOf(one).some((side) => framesOf(page).some((edge) => cross(side, edge))));
    });
    expect((await Promise.all(onFrames)).flat().map(({ words }) => words)).toEqual([]);
  });
});

describe('writeWorksheet', () => {
  it.each(BUILT_IN_PATTERNS)(
    '%s fits one page of A4 or Letter, the ruler two, with every id, in type that can be read',
    async (name) => {
      const coupon = await generateCoupon(name, { widthMm: 150, heightMm: 100, pitchXMm: 0.0254 });
      // ISO 216 A4 is 210 x 297 mm; ANSI Letter is 8.5 x 11 in, 612 x 792 pt.
      for (const [paper, width, height] of [
        ['a4', 210 * MM, 297 * MM],
        ['letter', 612, 792],
      ] as const) {
        const bytes = await writeWorksheet(coupon, { paper });
        const document = await PDFDocument.load(bytes);
        // Spans that would cross those along X and Y have a page of their own.
        expect(document.getPageCount()).toBe(name === 'scale-ruler' ? 2 : 1);
        expect(document.getPage(0).getWidth()).toBeCloseTo(width, 6);
        expect(document.getPage(0).getHeight()).toBeCloseTo(height, 6);
        const written = texts(await operatorsOf(bytes));
        for (const { id } of coupon.features.features) {
          const found = written.filter(({ words }) => words === id).length;
          // Once in the drawing and once at its box; the id of a narrow cell is broken into two lines.
          expect([id, found >= (id.startsWith('G') ? 1 : 2)]).toEqual([id, true]);
        }
        expect(Math.min(...written.map(({ sizePt }) => sizePt))).toBeGreaterThanOrEqual(6);
        const all = written.map(({ words }) => words).join(' ');
        for (const word of [
          /class 4/,
          /eyewear/,
          /PVC/,
          /fumes/,
          /alone/,
          /manual/,
          /Power/,
          /Film/,
          /1000 dpi/,
          /px/,
        ]) {
          expect(all).toMatch(word);
        }
      }
    },
  );

  it('arrow tips stand at exactly the two edges of every feature, at one scale', async () => {
    const coupon = await generateCoupon('witness', { widthMm: 12, heightMm: 12, pitchXMm: 0.0254 });
    const tips = arrowTips(await operatorsOf(await writeWorksheet(coupon)));
    const features = coupon.features.features as readonly DimensionalFeature[];
    expect(tips).toHaveLength(2 * features.length);
    const [a, b] = [tips[0], tips[1]];
    const scale = (b[0] - a[0]) / features[0].nominalMm;
    const origin = [a[0] - features[0].from[0] * scale, a[1] - features[0].from[1] * scale];
    features.forEach(({ id, from, to }, i) => {
      for (const [k, point] of [from, to].entries()) {
        const [x, y] = tips[2 * i + k];
        expect([
          id,
          Math.abs(x - origin[0] - point[0] * scale) < 0.002,
          Math.abs(y - origin[1] - point[1] * scale) < 0.002,
        ]).toEqual([id, true, true]);
      }
    });
  });

  it('nothing is drawn beyond the margins of the paper', async () => {
    const coupon = await generateCoupon('scale-ruler', { widthMm: 600, heightMm: 90, pitchXMm: 0.05 });
    for (const [x, y] of arrowTips(await operatorsOf(await writeWorksheet(coupon)))) {
      expect(x > 8 && x < 202 && y > 8 && y < 289).toBe(true);
    }
  });

  it('sizes and the head of the boxes are in what the gauge shows; in mm and inches where none is known', async () => {
    const coupon = await generateCoupon('scale-ruler', { widthMm: 150, heightMm: 100, pitchXMm: 0.05 });
    const loupe = { name: 'loupe', resolutionMm: 0.05 };
    const heads = async (...gauges: ProjectGauge[]): Promise<string[]> => {
      const words = texts(await operatorsOf(await writeWorksheet(coupon, { gauges }))).map((text) => text.words);
      return ['mm or in', 'mm', 'in', '10.00', '10.00 mm', '0.3937 in'].filter((one) => words.includes(one));
    };
    expect(await heads()).toEqual(['mm or in', '10.00', '0.3937 in']);
    expect(await heads({ name: 'caliper', resolutionMm: 0.01 }, loupe)).toEqual(['mm', '10.00 mm']);
    expect(await heads(loupe, { name: 'caliper', resolutionMm: 0.0127, unit: 'in' })).toEqual([
      'in',
      '10.00 mm',
      '0.3937 in',
    ]);
  });

  it('the same coupon gives the same bytes', async () => {
    const coupon = await generateCoupon('vernier', { widthMm: 70, heightMm: 50, pitchXMm: 0.05 });
    expect(await writeWorksheet(coupon)).toEqual(await writeWorksheet(coupon));
  });

  it('a grid of 240 cells goes on to next pages, and no column leaves the paper', async () => {
    const steps = (from: number, step: number, n: number) => Array.from({ length: n }, (_, i) => from + step * i);
    const coupon = await generateCoupon('power-speed-grid', {
      widthMm: 300,
      heightMm: 250,
      pitchXMm: 0.1,
      powersPercent: steps(5, 5, 20),
      speedsMmS: steps(20, 20, 12),
    });
    const bytes = await writeWorksheet(coupon);
    const operators = await operatorsOf(bytes);
    const words = texts(operators).map((text) => text.words);
    expect(coupon.features.features.filter(({ id }) => !words.includes(id))).toEqual([]);
    for (const [, x, , width] of operators.matchAll(/ ([\d.]+) ([\d.]+) ([\d.]+) [\d.]+ re S/g)) {
      expect((Number(x) + Number(width)) / MM).toBeLessThan(201);
      if (Number(width) / MM > 6) expect(Number(width) / MM).toBeGreaterThan(11 - 1e-3);
    }
  });

  it('an id never lies across an edge of what is measured', async () => {
    const coupon = await generateCoupon('witness', { widthMm: 12, heightMm: 12, pitchXMm: 0.0254 });
    const white = [
      ...(await operatorsOf(await writeWorksheet(coupon))).matchAll(
        /1 1 1 rg ([\d.]+) ([\d.]+) ([\d.]+) ([\d.]+) re f/g,
      ),
    ];
    const tips = arrowTips(await operatorsOf(await writeWorksheet(coupon)));
    for (const box of white) {
      const [x, y, w, h] = box.slice(1).map((v) => Number(v) / MM);
      expect(tips.filter(([tx, ty]) => tx > x + 0.01 && tx < x + w - 0.01 && ty > y - 3 && ty < y + h + 3)).toEqual([]);
    }
  });

  it('more features than a page has boxes for go on, none is lost', async () => {
    const sizesMm = Array.from({ length: 30 }, (_, i) => 0.1 + i * 0.05);
    const coupon = await generateCoupon(
      {
        format: 'apertrue-pattern',
        version: 1,
        name: 'many',
        title: 'Many',
        prefix: 'M',
        smallestBedMm: [100, 100],
        steps: [],
        elements: [
          {
            kind: 'ladder',
            place: [0.5, 0.5],
            slotLengthMm: 2,
            rows: Array.from({ length: 5 }, () => ({ measures: 'opening', axis: 'x', sizesMm }) as const),
          },
        ],
      },
      { widthMm: 150, heightMm: 120, pitchXMm: 0.05 },
    );
    const bytes = await writeWorksheet(coupon);
    expect((await PDFDocument.load(bytes)).getPageCount()).toBeGreaterThan(1);
    const words = new Set(texts(await operatorsOf(bytes)).map((text) => text.words));
    expect(coupon.features.features.filter(({ id }) => !words.has(id))).toEqual([]);
  });

  it('writes what it can of letters that the fonts of PDF do not know', async () => {
    const coupon = await generateCoupon('scale-ruler', { widthMm: 150, heightMm: 100, pitchXMm: 0.0254 });
    const bytes = await writeWorksheet({ ...coupon, title: 'Проба ≤ 50 µm → PET' });
    const words = texts(await operatorsOf(bytes)).map((text) => text.words);
    expect(words).toContain('scale-ruler: ????? <= 50 µm -> PET');
  });
});
