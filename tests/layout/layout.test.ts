import fc from 'fast-check';
import { PDFDocument } from 'pdf-lib';
import { describe, expect, it } from 'vitest';
import { openingArea } from '../../src/geometry/area.js';
import { boxesNear, ringBounds } from '../../src/geometry/bounds.js';
import { ellipse, rectangle, solid } from '../../src/geometry/shapes.js';
import { findHeat } from '../../src/layout/heat.js';
import {
  cornerMarks,
  holeOpenings,
  layStencil,
  MARK_CLEARANCE_MM,
  outlineTicks,
} from '../../src/layout/lay-stencil.js';
import { packSheet } from '../../src/layout/pack.js';
import type { LaidStencil, StencilRequest } from '../../src/layout/types.js';
import { dryFitPages, dryFitPdf } from '../../src/report/dry-fit.js';

const BOARD = rectangle(0, 0, 60, 40);
const request = (over: Partial<StencilRequest> = {}): StencilRequest => ({
  name: 'board',
  openings: [solid(rectangle(10, 10, 11, 12)), solid(ellipse(40, 20, 0.5))],
  outline: [BOARD],
  words: ['BOARD TOP', 'PET 0.1 MM'],
  cornerMarks: true,
  outlineTicks: true,
  marginMm: 15,
  witnessMm: 12,
  letteringMm: 2.5,
  kerfMm: 0.12,
  ...over,
});

/** Pairs of boxes that meet; strokes of one text may. */
const overlaps = (laid: LaidStencil): number => {
  const things = laid.openings.map(({ part, opening }) => ({ part: part as string, box: ringBounds(opening.outer) }));
  if (laid.witnessAt) {
    const [x, y] = laid.witnessAt;
    things.push({ part: 'witness', box: { minX: x, minY: y, maxX: x + 12, maxY: y + 12 } });
  }
  const meet = (p: (typeof things)[number], q: (typeof things)[number]): boolean =>
    !(p.part === 'lettering' && q.part === 'lettering') && boxesNear(p.box, q.box);
  return things.reduce((count, one, i) => count + things.slice(0, i).filter((other) => meet(one, other)).length, 0);
};

describe('a stencil on its film', () => {
  it('has the board in the middle, the stated margins, and nothing that overlaps', () => {
    const laid = layStencil(request());
    expect([laid.widthMm, laid.heightMm]).toEqual([90, 70]);
    const paste = laid.openings.filter(({ part }) => part === 'paste');
    expect(paste.map(({ number }) => number)).toEqual([1, 2]);
    expect(ringBounds(paste[0].opening.outer)).toMatchObject({ minX: 25, minY: 25 });
    expect(overlaps(laid)).toBe(0);
  });

  it('has its corner marks just outside the board, at the same distance everywhere', () => {
    for (const mark of [
      ...cornerMarks({ minX: 0, minY: 0, maxX: 60, maxY: 40 }),
      ...outlineTicks({ minX: 0, minY: 0, maxX: 60, maxY: 40 }, 0.3),
    ]) {
      const distances = mark.outer.map(([x, y]) => Math.max(-x, x - 60, -y, y - 40));
      expect(Math.min(...distances)).toBeCloseTo(MARK_CLEARANCE_MM, 9);
      expect(openingArea(mark)).toBeGreaterThan(0.5);
    }
  });

  it('gets a handle on the side asked for', () => {
    const laid = layStencil(request({ handle: { side: 'left', widthMm: 25 } }));
    expect(laid.widthMm).toBe(115);
    expect(ringBounds(laid.openings[0].opening.outer).minX).toBe(50);
    expect(overlaps(laid)).toBe(0);
  });

  it('spells umlauts out and leaves accents off, also in words that run over lines', () => {
    const lettered = (word: string) =>
      layStencil(request({ words: [word], outline: [rectangle(0, 0, 45, 40)] })).openings.filter(({ part }) => part === 'lettering'); // biome-ignore format: one line
    expect(lettered('Prüfloch, Größe 1, café')).toEqual(lettered('Pruefloch, Groesse 1, cafe'));
    expect(lettered('löt')).not.toEqual(lettered('l-t'));
  });

  it('never parts a number from its unit, nor the mark of a job from its word', () => {
    const lettered = (words: string[]) =>
      layStencil(request({ words, outline: [rectangle(0, 0, 45, 40)] })).openings.filter(({ part }) => part === 'lettering'); // biome-ignore format: one line
    const lengths = Array.from({ length: 24 }, (_, i) => i + 1);
    const broken = (tail: string[]): number[] =>
      lengths.filter((n) => {
        const [first, ...more] = tail;
        const whole = lettered([['A'.repeat(n), ...tail].join(' ')]);
        return JSON.stringify(whole) === JSON.stringify(lettered([`${'A'.repeat(n)} ${first}`, ...more]));
      });
    // Words are parted before the last one at some length; a number and its unit at none.
    expect(broken(['0.1', 'PET']).length).toBeGreaterThan(0);
    for (const unit of ['MM', 'mm/s', '%']) expect([unit, broken(['0.1', unit])]).toEqual([unit, []]);
    expect(broken(['job', '0a1b2c'])).toEqual([]);
  });

  it('grows its lower margin for more words, and never runs them into anything', () => {
    fc.assert(
      fc.property(
        fc.array(fc.stringMatching(/^[A-Z0-9 -]{1,40}$/), { maxLength: 6 }),
        fc.integer({ min: 12, max: 120 }),
        (words, width) => {
          const laid = layStencil(request({ words, outline: [rectangle(0, 0, Math.max(width, 45), 40)] }));
          expect(overlaps(laid)).toBe(0);
        },
      ),
      { numRuns: 40 },
    );
  });

  it('refuses a margin that has no room for the witness, and holes that lie off the film', () => {
    expect(() => layStencil(request({ marginMm: 10 }))).toThrowError(/no room for the witness/);
    expect(() => layStencil(request({ holes: [{ x: 500, y: 0, diameterMm: 3 }] }))).toThrowError(/outside the film/);
  });

  it('warns when a hole lies on paste', () => {
    const laid = layStencil(request({ holes: [{ x: 10.5, y: 11, diameterMm: 3.2 }] }));
    expect(laid.warnings[0]).toMatchObject({ code: 'HOLE_ON_PASTE', openings: [1] });
    // Within the hole's box, and not in the hole: 1.70 mm from its middle.
    expect(layStencil(request({ holes: [{ x: 8.8, y: 8.8, diameterMm: 3.2 }] })).warnings).toEqual([]);
  });

  it('cuts holes as wide as the drill', () => {
    const [hole] = holeOpenings([{ x: 4, y: 7, diameterMm: 3.2 }]);
    const { minX, maxX, minY, maxY } = ringBounds(hole.outer);
    expect([minX + maxX, minY + maxY].map((sum) => sum / 2)).toEqual([expect.closeTo(4, 3), expect.closeTo(7, 3)]);
    expect(openingArea(hole)).toBeCloseTo(Math.PI * 1.6 ** 2, 3);
  });

  it('cuts slots as obrounds', () => {
    const [slot] = holeOpenings([{ x: 0, y: 0, diameterMm: 1, slotTo: [3, 0] }]);
    expect(openingArea(slot)).toBeCloseTo(3 + Math.PI / 4, 3);
  });
});

describe('a sheet', () => {
  const pieces = (count: number): LaidStencil[] => Array.from({ length: count }, () => layStencil(request()));

  it('keeps pieces apart by the spacing and inside the bed', () => {
    const sheet = packSheet(pieces(5), { bed: { widthMm: 300, heightMm: 160 }, spacingMm: 5 });
    const boxes = sheet.pieces.map(({ at, widthMm, heightMm }) => ({
      minX: at[0],
      minY: at[1],
      maxX: at[0] + widthMm,
      maxY: at[1] + heightMm,
    }));
    boxes.forEach((box, i) => {
      expect(box.maxX).toBeLessThanOrEqual(300);
      expect(box.maxY).toBeLessThanOrEqual(160);
      for (const other of boxes.slice(0, i)) expect(boxesNear(box, other, 5 - 1e-9)).toBe(false);
    });
    expect(sheet.openings).toHaveLength(5 * layStencil(request()).openings.length);
  });

  it('says by how much it does not fit, and how many would', () => {
    expect(() => packSheet(pieces(5), { bed: { widthMm: 200, heightMm: 150 }, spacingMm: 5 })).toThrowError(
      /70\.0 mm in height missing; 4 would fit/,
    );
  });
});

describe('heat', () => {
  it('is told of for a crowd of openings and for a fine row beside a large one', () => {
    const row = Array.from({ length: 10 }, (_, i) => solid(rectangle(0.5 * i, 0, 0.5 * i + 0.25, 1)));
    const large = solid(rectangle(0, 1.3, 5, 4));
    const codes = findHeat([...row, large]).map(({ code }) => code);
    expect(codes).toEqual(['HEAT_CROWD', 'HEAT_BESIDE_LARGE']);
    // The kerf is that of the coupons' power and passes: nothing may ask for others as if it still held.
    expect(findHeat(row)[0].hint).toMatch(/less power .* profile of its own/i);
    expect(findHeat(row.filter((_, i) => i % 3 === 0))).toEqual([]);
  });

  it('is told of once, however many crowds and large openings there are', () => {
    const chip = (x: number) => [
      solid(rectangle(x, 1.4, x + 5, 4)),
      ...Array.from({ length: 10 }, (_, i) => solid(rectangle(x + 0.5 * i, 0, x + 0.5 * i + 0.25, 1))),
    ];
    const [crowds, large, ...more] = findHeat([...chip(0), ...chip(20), ...chip(40)]);
    expect(more).toEqual([]);
    expect(crowds).toMatchObject({
      message: expect.stringMatching(/^30 openings in 3 crowds stand closer/),
      openings: Array.from({ length: 33 }, (_, i) => i + 1).filter((number) => number % 11 !== 1),
    });
    expect(large.message).toMatch(/^3 large openings \(the first ones named\) lie within 0\.6 mm of 30 fine ones/);
    expect(large.openings?.slice(0, 4)).toEqual([1, 12, 23, 2]);
  });

  it('begins at the stated distances: 0.3 mm in a crowd, 0.6 mm beside a large one', () => {
    const row = (webMm: number) =>
      Array.from({ length: 10 }, (_, i) => solid(rectangle(i * (0.25 + webMm), 0, i * (0.25 + webMm) + 0.25, 1)));
    expect([0.29, 0.31].map((web) => findHeat(row(web)).length)).toEqual([1, 0]);
    const beside = (gapMm: number) => findHeat([...row(0.7), solid(rectangle(0, 1 + gapMm, 9, 4))]).length;
    expect([0.59, 0.61].map(beside)).toEqual([1, 0]);
  });
});

describe('the dry fit', () => {
  const drawing = {
    title: 'board',
    widthMm: 90,
    heightMm: 70,
    openings: [solid(rectangle(10, 10, 20, 20))],
    outlines: [BOARD],
    pieces: [{ name: 'board', at: [0, 0] as const, widthMm: 90, heightMm: 70 }],
  };

  it('is one page of the paper’s size, and the same bytes each time', async () => {
    const { bytes, pages } = await dryFitPdf(drawing, { paper: 'a4' });
    expect(pages).toBe(1);
    const [page] = (await PDFDocument.load(bytes)).getPages();
    expect(page.getWidth()).toBeCloseTo((210 / 25.4) * 72, 6);
    expect(Buffer.from(bytes).equals(Buffer.from((await dryFitPdf(drawing, { paper: 'a4' })).bytes))).toBe(true);
  });

  it('goes on a page for each piece when the sheet is too large', async () => {
    const wide = {
      ...drawing,
      widthMm: 400,
      heightMm: 200,
      pieces: [drawing.pieces[0], { name: 'other', at: [200, 0] as const, widthMm: 90, heightMm: 70 }],
    };
    expect((await PDFDocument.load((await dryFitPdf(wide, { paper: 'a4' })).bytes)).getPageCount()).toBe(2);
  });

  it('spreads one piece that is larger than the paper over pages of the paper’s size', async () => {
    const large = {
      ...drawing,
      widthMm: 300,
      heightMm: 200,
      pieces: [{ name: 'board', at: [0, 0] as const, widthMm: 300, heightMm: 200 }],
    };
    const { bytes, pages, tiled } = await dryFitPdf(large, { paper: 'a4' });
    const sheets = (await PDFDocument.load(bytes)).getPages();
    expect([pages, tiled, sheets.length]).toEqual([2, true, 2]);
    for (const page of sheets)
      expect([page.getWidth(), page.getHeight()].map((pt) => (pt * 25.4) / 72).map(Math.round)).toEqual([210, 297]);
    const covered = dryFitPages(large, { paper: 'a4' }).reduce((sum, page) => sum + page.widthMm * page.heightMm, 0);
    expect(covered).toBeCloseTo(300 * 200, 6);
  });

  it('makes up for a printer that prints too small', async () => {
    const { PDFiumLibrary } = await import('@hyzyla/pdfium');
    const library = await PDFiumLibrary.init();
    const widthOf = async (bytes: Uint8Array): Promise<number> => {
      const document = await library.loadDocument(bytes);
      const { data, width, height } = await document.getPage(0).render({ width: 2100, height: 2970 });
      document.destroy();
      // Blue, green, red, alpha. The longest run of mid grey that is also 2 mm high is the filled square.
      const grey = (row: number, column: number): boolean => {
        const level = data[4 * (row * width + column)];
        return level > 170 && level < 210;
      };
      let longest = 0;
      for (let row = 0; row + 20 < height; row += 1) {
        let run = 0;
        for (let column = 0; column < width; column += 1) {
          run = grey(row, column) && grey(row + 20, column) ? run + 1 : 0;
          longest = Math.max(longest, run);
        }
      }
      return longest;
    };
    const plain = await widthOf((await dryFitPdf(drawing, { paper: 'a4' })).bytes);
    const made = await widthOf((await dryFitPdf(drawing, { paper: 'a4', printedMm: { x: 95, y: 95 } })).bytes);
    expect(made / plain).toBeCloseTo(100 / 95, 2);
    library.destroy();
  });
});
