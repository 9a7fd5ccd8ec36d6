import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { type Dots, dotsOf } from '../../src/dots/rasterise.js';
import { toPixelShape } from '../../src/dots/shape.js';
import { maskOf } from '../../src/dots/stamp.js';
import { mapOpening, rotation, scaling } from '../../src/geometry/affine.js';
import { openingArea } from '../../src/geometry/area.js';
import { ringBounds } from '../../src/geometry/bounds.js';
import { ellipse, rectangle, solid } from '../../src/geometry/shapes.js';
import type { Opening, Region } from '../../src/geometry/types.js';
import { at, board, box, randomBoard, rounded } from '../export/boards.js';
import { burn, isBurnt, rasterise } from './in-memory.js';

const PITCH = { x: 0.0254, y: 0.0254 };

function options(sizeMm: number, pitch = PITCH) {
  const [widthPx, heightPx] = [Math.ceil(sizeMm / pitch.x), Math.ceil(sizeMm / pitch.y)];
  const toPixels = { a: 1 / pitch.x, b: 0, c: 0, d: -1 / pitch.y, e: 0, f: heightPx };
  return { widthPx, heightPx, toPixels, dot: pitch };
}

/** Area errors in percent of the openings that are at least 0.25 mm wide and high. */
function areaErrors(openings: readonly Opening[], dots: Dots, pitch = PITCH): number[] {
  return openings.flatMap((opening, i) => {
    const { minX, minY, maxX, maxY } = ringBounds(opening.outer);
    if (Math.min(maxX - minX, maxY - minY) < 0.25 - 1e-9) return [];
    const area = openingArea(opening) / (pitch.x * pitch.y);
    return [(100 * Math.abs(dots.placed[i].stamp.count - area)) / area];
  });
}

const mean = (values: readonly number[]): number => values.reduce((a, b) => a + b, 0) / values.length;

describe('area-true rounding at 1000 dpi', () => {
  const cases: [string, ReturnType<typeof board>, number, number][] = [
    ['a board with chips, leadless parts and ball grids', board(1200, 1), 1.1, 4.5],
    ['another one', board(400, 7), 1.2, 2.5],
    ['a board on which every part is slanted', board(300, 2, 1), 1.8, 4.5],
    ['rectangles, round corners and discs of random size', randomBoard(400, 3), 1, 7],
  ];
  it.each(cases)('%s', (_, { openings, sizeMm }, most, worst) => {
    const dots = dotsOf(openings, options(sizeMm));
    const errors = areaErrors(openings, dots);
    expect(mean(errors)).toBeLessThan(most);
    expect(Math.max(...errors)).toBeLessThan(worst);
    expect(dots.rounding.maxPositionErrorPx).toBeLessThanOrEqual(0.5);
    if (_.includes('slanted')) return;
    // What plain sampling at the dots' centres makes of it.
    const plain = areaErrors(openings, dotsOf(openings, { ...options(sizeMm), rounding: 'snapped' }));
    expect(mean(errors)).toBeLessThan(mean(plain));
  });

  it('widths are right to a third of a dot and their mean is not biased', () => {
    const { openings, sizeMm } = randomBoard(400, 9);
    const { rounding } = dotsOf(openings, options(sizeMm));
    expect(rounding.rmsWidthErrorMm).toBeLessThan(0.0092);
    expect(Math.abs(rounding.meanWidthErrorMm)).toBeLessThan(0.002);
  });

  it('dots that are twice as wide as high', () => {
    const pitch = { x: 0.05, y: 0.0254 };
    const { openings, sizeMm } = randomBoard(300, 4);
    const errors = areaErrors(openings, dotsOf(openings, options(sizeMm, pitch)), pitch);
    expect(mean(errors)).toBeLessThan(3);
    expect(Math.max(...errors)).toBeLessThan(12);
  });

  it('the figures that come back are those of the dots', () => {
    const { openings, sizeMm } = randomBoard(60, 12);
    const dots = dotsOf(openings, options(sizeMm));
    const errors = areaErrors(openings, dots);
    expect(dots.rounding.meanAbsAreaErrorPercent).toBeCloseTo(mean(errors), 6);
    expect(dots.rounding.maxAbsAreaErrorPercent).toBeCloseTo(Math.max(...errors), 6);
    const bitmap = rasterise(openings, options(sizeMm));
    let burnt = 0;
    for (const byte of bitmap.data) for (let bits = byte; bits > 0; bits &= bits - 1) burnt += 1;
    expect(burnt).toBe(dots.placed.reduce((sum, { stamp }) => sum + stamp.count, 0));
  });
});

describe('symmetry', () => {
  const shapes: [string, Region][] = [
    ['rectangle', solid(box(0.337, 0.621))],
    ['square', solid(box(0.4127, 0.4127))],
    ['round corners', solid(rounded(0.513, 0.377, 0.1))],
    ['obround', solid(rounded(0.283, 0.9, 0.1415))],
    ['disc', solid(ellipse(0, 0, 0.171))],
    ['ring', { outer: ellipse(0, 0, 0.5), islands: [ellipse(0, 0, 0.3).toReversed()] }],
  ];
  it.each(shapes)('a %s comes out the same mirrored both ways', (_, shape) => {
    const opening = mapOpening({ a: 1, b: 0, c: 0, d: 1, e: 1.2345, f: 1.1717 }, shape);
    const [{ stamp }] = dotsOf([opening], options(3)).placed;
    const mask = maskOf(stamp);
    for (let y = 0; y < stamp.height; y += 1) {
      for (let x = 0; x < stamp.width; x += 1) {
        const value = mask[y * stamp.width + x];
        expect(mask[y * stamp.width + stamp.width - 1 - x]).toBe(value);
        expect(mask[(stamp.height - 1 - y) * stamp.width + x]).toBe(value);
      }
    }
  });

  it('the two pads of every chip are equal, be one the mirror image of the other', () => {
    const outline = [
      [0, 0],
      [0.4, 0],
      [0.55, 0.25],
      [0.4, 0.5],
      [0, 0.5],
    ] as const;
    const chips: Opening[] = [];
    for (let k = 0; k < 40; k += 1) {
      const [x, y] = [1 + (k % 8) * 2.0371, 1 + Math.floor(k / 8) * 1.9173];
      const right = mapOpening({ a: 1, b: 0, c: 0, d: 1, e: x + 0.3, f: y }, solid(outline));
      const left = mapOpening({ a: 1, b: 0, c: 0, d: 1, e: x - 0.3, f: y }, mapOpening(scaling(-1, 1), solid(outline)));
      chips.push(left, right);
    }
    const { placed } = dotsOf(chips, options(20));
    for (let k = 0; k < placed.length; k += 2) {
      const [p, q] = [placed[k].stamp, placed[k + 1].stamp];
      const [a, b] = [maskOf(p), maskOf(q)];
      expect([p.width, p.height, p.count]).toEqual([q.width, q.height, q.count]);
      expect(a.every((v, i) => v === b[i - (i % p.width) + p.width - 1 - (i % p.width)])).toBe(true);
    }
  });
});

describe('webs', () => {
  it('equal pads get equal dots, whatever lies beside them, and their widths stay the nearest', () => {
    const kerfMm = { x: 0.137, y: 0.094 };
    for (const [pitchMm, pad, width, height] of [
      [0.5, box(0.95 - 0.137, 0.35 - 0.094), 0.813, 0.256],
      [0.4, box(0.25 - 0.137, 1.3 - 0.094), 0.113, 1.206],
      [0.5, rounded(0.27, 0.85, 0.135), 0.27, 0.85],
    ] as const) {
      const along = width > height ? 'y' : 'x';
      const row = Array.from({ length: 8 }, (_, i) =>
        along === 'x' ? at(pad, 1 + i * pitchMm, 2) : at(pad, 2, 1 + i * pitchMm),
      );
      const { placed } = dotsOf([...row, at(pad, 8, 8)], { ...options(12), kerfMm });
      const [lone] = placed.slice(-1);
      for (const { stamp } of placed) expect(stamp.rows).toEqual(lone.stamp.rows);
      expect(Math.abs(lone.stamp.width - width / PITCH.x)).toBeLessThanOrEqual(0.6);
      expect(Math.abs(lone.stamp.height - height / PITCH.y)).toBeLessThanOrEqual(0.6);
    }
  });

  it('openings with film between them never merge, not even at a corner', () => {
    fc.assert(
      fc.property(
        fc.double({ min: 0.016, max: 0.05, noNaN: true }),
        fc.double({ min: 0, max: 0.0254, noNaN: true }),
        fc.constantFrom('x', 'y', 'diagonal'),
        fc.double({ min: 0.1, max: 0.6, noNaN: true }),
        (gap, shift, where, size) => {
          const dx = where === 'y' ? 0 : size + (where === 'x' ? gap : gap * Math.SQRT1_2);
          const dy = where === 'x' ? 0 : size + (where === 'y' ? gap : gap * Math.SQRT1_2);
          const pair = [at(box(size, size), 1 + shift, 1), at(box(size, size), 1 + shift + dx, 1 + dy)];
          const { placed } = dotsOf(pair, options(3));
          const bitmap = burn([placed[0]], 120, 120);
          const [other] = [burn([placed[1]], 120, 120)];
          for (let y = 0; y < 120; y += 1) {
            for (let x = 0; x < 120; x += 1) {
              if (!isBurnt(bitmap, x, y)) continue;
              for (let k = 0; k < 9; k += 1) {
                expect(isBurnt(other, x + (k % 3) - 1, y + Math.floor(k / 3) - 1)).toBe(false);
              }
            }
          }
        },
      ),
      { numRuns: 40, seed: 8 },
    );
  });
});

describe('thin openings', () => {
  /** Number of parts, corners counting as joined. */
  function parts({ width, height, ...stamp }: Dots['placed'][number]['stamp']): number {
    const mask = maskOf({ width, height, ...stamp });
    let found = 0;
    for (let start = 0; start < mask.length; start += 1) {
      if (mask[start] !== 1) continue;
      found += 1;
      const stack = [start];
      mask[start] = 2;
      while (stack.length > 0) {
        const dot = stack.pop() as number;
        for (let k = 0; k < 9; k += 1) {
          const [x, y] = [(dot % width) + (k % 3) - 1, Math.floor(dot / width) + Math.floor(k / 3) - 1];
          if (x < 0 || y < 0 || x >= width || y >= height || mask[y * width + x] !== 1) continue;
          mask[y * width + x] = 2;
          stack.push(y * width + x);
        }
      }
    }
    return found;
  }

  it('a line as thin as a dot, or thinner, is kept in one piece and at its length at every angle', () => {
    fc.assert(
      fc.property(
        fc.double({ min: 0.2, max: 1.6, noNaN: true }),
        fc.double({ min: 0, max: 180, noNaN: true }),
        fc.double({ min: 0, max: 1, noNaN: true }),
        (thickness, angleDeg, shift) => {
          const line = mapOpening(rotation(angleDeg), solid(box(0.8, thickness * PITCH.x)));
          const moved = mapOpening({ a: 1, b: 0, c: 0, d: 1, e: 1 + shift * PITCH.x, f: 1 }, line);
          const [{ stamp }] = dotsOf([moved], options(2)).placed;
          expect(parts(stamp)).toBe(1);
          const long = Math.hypot(stamp.width, stamp.height);
          expect(long).toBeGreaterThan(0.8 / PITCH.x - 4);
        },
      ),
      { numRuns: 150, seed: 2 },
    );
  });

  it('the thinnest line along an axis is exactly one dot', () => {
    const { placed } = dotsOf([at(box(1, 0.0254), 1, 1.003), at(box(0.01, 1), 1.7, 1)], options(3));
    expect([placed[0].stamp.height, placed[1].stamp.width]).toEqual([1, 1]);
    expect(Math.abs(placed[0].stamp.width - 1 / 0.0254)).toBeLessThan(1);
  });

  it('an opening without area burns nothing', () => {
    const { placed } = dotsOf(
      [
        solid([
          [1, 1],
          [2, 1],
          [1.5, 1],
        ] as const),
      ],
      options(3),
    );
    expect(placed[0].stamp.count).toBe(0);
  });
});

describe('snapped', () => {
  it('shapes on the grid come out dot by dot, far from the origin too', () => {
    fc.assert(
      fc.property(
        fc.array(fc.boolean(), { minLength: 36, maxLength: 36 }),
        fc.integer({ min: 0, max: 9000 }),
        fc.constantFrom({ x: 0.0254, y: 0.0254 }, { x: 0.05, y: 0.0254 }, { x: 0.1, y: 1 / 3 }),
        (cells, offset, pitch) => {
          const squares = cells.flatMap((on, i): Opening[] => {
            if (!on) return [];
            const [c, r] = [offset + (i % 6), offset + Math.floor(i / 6)];
            return [solid(rectangle(c * pitch.x, r * pitch.y, (c + 1) * pitch.x, (r + 1) * pitch.y))];
          });
          const size = offset + 6;
          const toPixels = { a: 1 / pitch.x, b: 0, c: 0, d: -1 / pitch.y, e: 0, f: size };
          const { placed } = dotsOf(squares, {
            widthPx: size,
            heightPx: size,
            toPixels,
            dot: pitch,
            rounding: 'snapped',
          });
          const expected = cells.flatMap((on, i) => (on ? [[offset + (i % 6), 5 - Math.floor(i / 6), 1]] : []));
          expect(placed.map(({ column, row, stamp }) => [column, row, stamp.count])).toEqual(expected);
        },
      ),
      { numRuns: 60, seed: 3 },
    );
  });

  it('a shape on the grid needs no rounding: area-true gives the same dots', () => {
    const shape = solid(
      [
        [0, 0],
        [20, 0],
        [20, 8],
        [12, 8],
        [12, 15],
        [0, 15],
      ].map(([x, y]) => [(x + 7) * 0.0254, (y + 9) * 0.0254] as const),
    );
    const both = (['snapped', 'area-true'] as const).map((rounding) => rasterise([shape], { ...options(1), rounding }));
    expect(both[0].data).toEqual(both[1].data);
  });
});

describe('large openings', () => {
  it('go by their outline and keep area and symmetry', () => {
    const shapes = [at(box(12.3456, 9.8765), 15, 15), at(ellipse(0, 0, 6.1), 15.007, 35)];
    const { placed, rounding } = dotsOf(shapes, options(45));
    expect(rounding.maxAbsAreaErrorPercent).toBeLessThan(0.15);
    expect(rounding.maxPositionErrorPx).toBeLessThanOrEqual(0.5);
    expect(Math.abs(placed[1].stamp.width - 12.2 / 0.0254)).toBeLessThan(1);
    expect(Math.abs(placed[1].stamp.height - 12.2 / 0.0254)).toBeLessThan(1);
  });

  it('thin lopsided frames lie where they were drawn', () => {
    // A line around a board with a notch: a dot more on one side moves its centre of area, not the frame.
    const line = (inset: number) => [
      [2 + inset, 2 + inset],
      [42 - inset, 2 + inset],
      [42 - inset, 20 - inset],
      [22 - inset, 20 - inset],
      [22 - inset, 30 - inset],
      [2 + inset, 30 - inset],
    ];
    for (const wide of [0.06, 0.0703, 0.088]) {
      const moved = (ring: number[][]) => ring.map(([x, y]) => [x + 0.011, y + 0.004] as const);
      const frame: Region = { outer: moved(line(0)), islands: [moved(line(wide)).toReversed()] };
      const { placed, rounding } = dotsOf([frame], options(45));
      const [{ stamp, column, row }] = placed;
      const { minX, maxX, minY, maxY } = toPixelShape(frame, options(45).toPixels);
      expect(Math.abs(column + stamp.width / 2 - (minX + maxX) / 2)).toBeLessThan(1);
      expect(Math.abs(row + stamp.height / 2 - (minY + maxY) / 2)).toBeLessThan(1);
      expect(rounding.maxPositionErrorPx).toBeLessThan(1);
    }
  });
});
