import { describe, expect, it } from 'vitest';
import { mapRing, rotation } from '../../src/geometry/affine.js';
import { openingArea, openingCentroid } from '../../src/geometry/area.js';
import { boundsOf } from '../../src/geometry/bounds.js';
import { ellipse, rectangle, solid } from '../../src/geometry/shapes.js';
import type { Opening, Ring } from '../../src/geometry/types.js';
import { insideRing } from '../../src/geometry/walls.js';
import { correctOpenings } from '../../src/machine/correct-openings.js';
import { predictCut } from '../../src/machine/predict-cut.js';
import { rounded } from '../export/boards.js';
import { boxOf, erodeMask, maskOf } from './opencv-reference.js';

const SQUARE_MACHINE = { scaleX: 1, scaleY: 1, shear: 0, kerfXMm: 0.12, kerfYMm: 0.12 };
const CROOKED = { scaleX: 1.004, scaleY: 0.997, shear: 0.0035, kerfXMm: 0.18, kerfYMm: 0.09 };

const pad = (w: number, h: number, x = 0, y = 0): Opening =>
  solid(rectangle(x - w / 2, y - h / 2, x + w / 2, y + h / 2));

describe('correctOpenings', () => {
  it('takes half a kerf off each side of a rectangle, exactly', () => {
    const { openings } = correctOpenings([pad(1, 0.5, 10, 20)], { ...SQUARE_MACHINE, kerfXMm: 0.18, kerfYMm: 0.09 });
    const box = boundsOf(openings);
    expect(box?.minX).toBeCloseTo(10 - 0.41, 9);
    expect(box?.maxX).toBeCloseTo(10 + 0.41, 9);
    expect(box?.minY).toBeCloseTo(20 - 0.205, 9);
    expect(box?.maxY).toBeCloseTo(20 + 0.205, 9);
  });

  it('undoes scale and shear: what is cut lies where it was asked, corners rounded by half a kerf', () => {
    const asked = [pad(0.6, 0.3, 5, 5), pad(0.3, 0.8, 80, 10), pad(1, 1, 40, 60), solid(ellipse(20, 50, 0.4))];
    const corrected = correctOpenings(asked, CROOKED);
    const { items, summary } = predictCut(corrected.openings, CROOKED, { asked, numbers: corrected.numbers });
    // The disc's polygon is up to 0.1 um wider at its corners than the disc.
    expect(summary.rmsWidthErrorMm).toBeLessThan(1e-4);
    expect(summary.rmsPositionErrorMm).toBeLessThan(2e-6);
    // An ellipse of full widths a, b rounds four corners: (4 - pi) a b / 4 is lost in all.
    const lost = ((4 - Math.PI) * CROOKED.kerfXMm * CROOKED.kerfYMm) / 4;
    for (const item of items.slice(0, 3)) expect(item.askedAreaMm2 - item.cutAreaMm2).toBeCloseTo(lost, 4);
  });

  it('keeps slanted openings slanted: 45 degree pads come back with their widths', () => {
    const turned = mapRing(rotation(45), rectangle(-0.25, -0.4, 0.25, 0.4)).map(([x, y]): [number, number] => [
      x + 30,
      y + 9,
    ]);
    const asked = [pad(1, 1), solid(turned), pad(1, 1, 60, 0), pad(1, 1, 0, 40)];
    const corrected = correctOpenings(asked, CROOKED);
    const { items } = predictCut(corrected.openings, CROOKED, { asked, numbers: corrected.numbers });
    expect(items[1].cutWidthMm).toBeCloseTo(items[1].askedWidthMm, 5);
    expect(items[1].cutHeightMm).toBeCloseTo(items[1].askedHeightMm, 5);
  });

  it('leaves an island standing, grown in the command by the kerf that will eat it', () => {
    const ring: Opening = { outer: ellipse(0, 0, 2), islands: [ellipse(0, 0, 1).toReversed()] };
    const { openings } = correctOpenings([ring], SQUARE_MACHINE);
    expect(openings).toHaveLength(1);
    expect(openingArea(openings[0])).toBeCloseTo(Math.PI * (1.94 ** 2 - 1.06 ** 2), 3);
  });

  it.each([
    [
      'an L',
      [
        [0, 0],
        [3, 0],
        [3, 1],
        [1, 1],
        [1, 3],
        [0, 3],
      ],
    ],
    [
      'an arrow',
      [
        [0, 0],
        [2, 1],
        [4, 0],
        [2, 4],
      ],
    ],
    [
      'a cross',
      [
        [1, 0],
        [2, 0],
        [2, 1],
        [3, 1],
        [3, 2],
        [2, 2],
        [2, 3],
        [1, 3],
        [1, 2],
        [0, 2],
        [0, 1],
        [1, 1],
      ],
    ],
  ] as [string, [number, number][]][])(
    'shrinks %s as an elliptical erosion by a general imaging library does',
    async (_name, outer) => {
      // Reference: OpenCV 4.5 erode with an elliptical kernel, on a raster of 200 pixels a millimetre. Its kernel is
      // half a pixel wider than asked on each side, which is up to 1 % of these areas; a wrong kerf would be 10 % or more.
      const [kerfXMm, kerfYMm] = [0.3, 0.2];
      const { openings } = correctOpenings([solid(outer)], { scaleX: 1, scaleY: 1, shear: 0, kerfXMm, kerfYMm });
      const area = openings.reduce((sum, o) => sum + openingArea(o), 0);
      const box = boxOf([outer], 0.5);
      const reference = await erodeMask(maskOf([outer], box, 200), box, 200, kerfXMm, kerfYMm);
      expect(Math.abs(area - reference) / reference).toBeLessThan(0.012);
    },
  );

  it('keeps a slot narrower than the kerf as the thinnest line, and says what it comes out as', () => {
    const { openings, narrow, warnings } = correctOpenings([pad(1, 1), pad(0.1, 1.2, 5, 0)], SQUARE_MACHINE, {
      lineMm: 0.0254,
    });
    expect(narrow).toHaveLength(1);
    expect(narrow[0]).toMatchObject({ opening: 2, extent: 'whole' });
    expect(narrow[0].askedMm[0]).toBeCloseTo(0.1, 9);
    expect(narrow[0].comesOutMm[0]).toBeCloseTo(0.1454, 6);
    expect(narrow[0].comesOutMm[1]).toBeCloseTo(1.2, 6);
    const [lying] = correctOpenings([pad(1.2, 0.1)], SQUARE_MACHINE, { lineMm: 0.0254 }).narrow;
    expect([...lying.askedMm, ...lying.comesOutMm].map((mm) => Number(mm.toFixed(3)))).toEqual([1.2, 0.1, 1.2, 0.145]);
    const box = boundsOf(openings.slice(1));
    expect((box?.maxX ?? 0) - (box?.minX ?? 0)).toBeCloseTo(0.0254, 9);
    expect(warnings[0]).toMatchObject({ code: 'NARROWER_THAN_KERF', openings: [2] });
  });

  it('keeps a slot that is too short across the wide kerf only at its full other width', () => {
    const { narrow, openings } = correctOpenings(
      [pad(0.15, 0.12)],
      { ...SQUARE_MACHINE, kerfXMm: 0.18, kerfYMm: 0.09 },
      { lineMm: 0.02 },
    );
    expect(narrow).toHaveLength(1);
    const box = boundsOf(openings);
    expect((box?.maxX ?? 0) - (box?.minX ?? 0)).toBeCloseTo(0.02, 9);
    expect((box?.maxY ?? 0) - (box?.minY ?? 0)).toBeCloseTo(0.03, 9);
  });

  it.each([
    [0.02, 0.4],
    [0.02, 0.1],
    [0.06, 0.1],
  ])('finds a neck of %f x %f mm, however thin and short', (thick, long) => {
    const [y0, y1] = [0.5 - thick / 2, 0.5 + thick / 2];
    const right = 1 + long;
    const outer: Opening['outer'] = [
      ...([
        [0, 0],
        [1, 0],
        [1, y0],
        [right, y0],
        [right, 0],
        [right + 1, 0],
      ] as const),
      ...([
        [right + 1, 1],
        [right, 1],
        [right, y1],
        [1, y1],
        [1, 1],
        [0, 1],
      ] as const),
    ];
    const { openings, narrow, warnings } = correctOpenings([solid(outer)], SQUARE_MACHINE);
    expect(openings).toHaveLength(1);
    expect(narrow.map(({ opening, extent }) => [opening, extent])).toEqual([[1, 'part']]);
    expect(warnings.map(({ code }) => code)).toEqual(['NARROWER_THAN_KERF']);
  });

  it('finds a neck narrower than the kerf between two wide parts', () => {
    const dumbbell: Opening = solid([
      [0, 0],
      [1, 0],
      [1, 0.46],
      [2, 0.46],
      [2, 0],
      [3, 0],
      [3, 1],
      [2, 1],
      [2, 0.54],
      [1, 0.54],
      [1, 1],
      [0, 1],
    ]);
    const { openings, narrow, numbers } = correctOpenings([dumbbell], SQUARE_MACHINE);
    expect(narrow).toHaveLength(1);
    expect(narrow[0]).toMatchObject({ opening: 1, extent: 'part' });
    expect(narrow[0].at[0]).toBeCloseTo(1.5, 2);
    expect(openings).toHaveLength(1);
    expect(numbers).toEqual([1]);
  });

  it('keeps a thin ring a ring', () => {
    const ring: Opening = { outer: ellipse(0, 0, 1.04), islands: [ellipse(0, 0, 0.96).toReversed()] };
    const { openings, narrow } = correctOpenings([ring], SQUARE_MACHINE);
    expect(narrow).toHaveLength(1);
    expect(openings).toHaveLength(1);
    expect(openings[0].islands).toHaveLength(1);
  });

  it('says nothing about the corners that every beam rounds', () => {
    const triangle: Opening = solid([
      [0, 0],
      [2, 0],
      [1, Math.sqrt(3)],
    ]);
    const hook: Opening = solid([
      [0, 0],
      [3, 0],
      [3, 1],
      [1, 1],
      [1, 3],
      [0, 3],
    ]);
    expect(correctOpenings([triangle, hook], SQUARE_MACHINE).narrow).toEqual([]);
  });

  it('gives equal pads equal commands, wherever they lie', () => {
    const { openings } = correctOpenings([pad(0.3, 0.8, 1, 1), pad(0.3, 0.8, 77.7, 42.1)], CROOKED);
    const shape = (o: Opening): number[] => o.outer.flatMap(([x, y]) => [x - o.outer[0][0], y - o.outer[0][1]]);
    shape(openings[0]).forEach((value, i) => {
      expect(value).toBeCloseTo(shape(openings[1])[i], 9);
    });
  });

  it('keeps walls upright for dots where shear is below a third of a dot, in the same place', () => {
    const asked = [pad(0.3, 0.8, 50, 70)];
    const exact = correctOpenings(asked, CROOKED).openings[0];
    const upright = correctOpenings(asked, CROOKED, { uprightBelowMm: 0.008 }).openings[0];
    expect(new Set(upright.outer.map(([x]) => x.toFixed(9))).size).toBe(2);
    const [ex, ey] = openingCentroid(exact);
    const [ux, uy] = openingCentroid(upright);
    expect(ux).toBeCloseTo(ex, 9);
    expect(uy).toBeCloseTo(ey, 9);
  });

  it('refuses numbers that can not be those of a machine', () => {
    expect(() => correctOpenings([pad(1, 1)], { ...SQUARE_MACHINE, kerfXMm: -0.1 })).toThrowError(/kerfXMm/);
    expect(() => correctOpenings([pad(1, 1)], { ...SQUARE_MACHINE, scaleY: 0 })).toThrowError(/scaleY/);
  });

  const polygon = (...xy: number[]): [number, number][] =>
    Array.from({ length: xy.length / 2 }, (_, i) => [xy[2 * i], xy[2 * i + 1]]);

  it('corners together are no lost part, whichever way they are turned', () => {
    const hook = polygon(0, 0, 1.6, 0, 1.6, 0.45, 0.45, 0.45, 0.45, 1.2, 0, 1.2);
    for (let angleDeg = 0; angleDeg < 360; angleDeg += 15) {
      const asked = solid(mapRing(rotation(angleDeg), hook));
      for (const [kerfXMm, kerfYMm] of [
        [0.137, 0.094],
        [0.25, 0.06],
        [0.11, 0.11],
      ]) {
        const { openings, narrow } = correctOpenings([asked], { ...SQUARE_MACHINE, kerfXMm, kerfYMm });
        expect([angleDeg, narrow, openings.length]).toEqual([angleDeg, [], 1]);
      }
    }
  });

  it.each([
    ['a long tip', polygon(0, 0, 0.3, 0, 0.15, 3), 'part'],
    ['a tip that is narrow all over', polygon(0, 0, 3, 0, 1.5, 0.09), 'whole'],
    ['a triangle that is narrow all over', polygon(0, 0, 0.09, 0, 0.045, 3), 'whole'],
  ] as const)('%s is listed and kept at its length', (_, outer, extent) => {
    const model = { ...SQUARE_MACHINE, kerfXMm: 0.1, kerfYMm: 0.1 };
    const asked = [solid(outer)];
    const { openings, numbers, narrow } = correctOpenings(asked, model);
    expect(narrow).toMatchObject([{ opening: 1, extent }]);
    const {
      film,
      items: [item],
    } = predictCut(openings, model, { asked, numbers });
    // To half a dot.
    expect(Math.abs(Math.max(item.cutWidthMm, item.cutHeightMm) - 3)).toBeLessThan(0.0127);
    // What is told is what comes out.
    const [told] = narrow;
    if (extent === 'whole') {
      const box = boundsOf(film[0]);
      const sides = box ? [box.maxX - box.minX, box.maxY - box.minY] : [];
      expect(told.comesOutMm[0]).toBeCloseTo(sides[0], 2);
      expect(told.comesOutMm[1]).toBeCloseTo(sides[1], 2);
    }
  });

  it('an opening exactly as wide as the kerf becomes the thinnest line and is listed', () => {
    const model = { ...SQUARE_MACHINE, kerfXMm: 0.2, kerfYMm: 0.25 };
    for (const asked of [pad(0.2, 0.25), pad(0.2, 1), pad(1, 0.25), pad(0.2 + 1e-9, 1, 7.3, 2.1)]) {
      const { openings, narrow } = correctOpenings([asked], model, { lineMm: 0.0254 });
      expect(narrow).toHaveLength(1);
      expect(openings).toHaveLength(1);
      expect(openingArea(openings[0])).toBeGreaterThan(0.0254 * 0.0254 * 0.99);
    }
  });

  it('round ends flatter than the beam come out at their length', () => {
    const model = { ...SQUARE_MACHINE, kerfXMm: 0.18, kerfYMm: 0.09 };
    const asked = [solid(mapRing(rotation(90), rounded(1.4, 0.2, 0.1, 24)))];
    const { openings, numbers, narrow } = correctOpenings(asked, model);
    expect(narrow).toEqual([]);
    const [item] = predictCut(openings, model, { asked, numbers }).items;
    expect(item.cutHeightMm).toBeCloseTo(1.4, 3);
    expect(item.cutWidthMm).toBeCloseTo(0.2, 2);
  });

  // Both tips lie on one side of its least rectangle, and half way between them is film.
  it.each([
    [
      'a home plate with a notch',
      [
        [0, 0],
        [1.2, 0],
        [1.2, 1],
        [0.6, 0.65],
        [0, 1],
      ],
    ],
    [
      'a fork',
      [
        [0, 0],
        [1.2, 0],
        [1.2, 1.2],
        [0.7, 0.7],
        [0.5, 0.7],
        [0, 1.2],
      ],
    ],
    [
      'a disc without a slice',
      [[0, 0], ...mapRing(rotation(163), ellipse(0, 0, 1)).filter((_, i, all) => i < 0.625 * all.length)],
    ],
  ] as [string, Ring][])('nothing leads into the notch of %s', (_name, outline) => {
    for (const [angle, kerfXMm, kerfYMm] of [
      [0, 0.12, 0.08],
      [33, 0.1, 0.1],
      [90, 0.05, 0.12],
      [205, 0.15, 0.15],
    ]) {
      const asked = [solid(mapRing(rotation(angle), outline))];
      const { openings } = correctOpenings(asked, { ...SQUARE_MACHINE, kerfXMm, kerfYMm });
      const corners = openings.flatMap(({ outer }) => mapRing(rotation(-angle), outer));
      for (const corner of corners) expect(insideRing(corner, outline)).toBe(true);
    }
  });
});
