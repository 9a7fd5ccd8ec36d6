import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { compose, type PaintedObject } from '../../../src/artwork/paint/compose.js';
import { openingArea } from '../../../src/geometry/area.js';
import { ellipse, rectangle, solid } from '../../../src/geometry/shapes.js';
import type { OpeningTag } from '../../../src/geometry/types.js';

const SIDE = 24;
type Box = readonly [x: number, y: number, w: number, h: number, dark: boolean];

/** The same painting on a grid of unit squares: an oracle that knows no polygons. */
function paintGrid(boxes: readonly Box[]): { area: number; pieces: number; holes: readonly [number, number] } {
  const grid = new Uint8Array(SIDE * SIDE);
  for (const [x, y, w, h, dark] of boxes) {
    for (let j = y; j < Math.min(SIDE, y + h); j += 1) {
      for (let i = x; i < Math.min(SIDE, x + w); i += 1) grid[j * SIDE + i] = dark ? 1 : 0;
    }
  }
  const area = grid.reduce((sum, v) => sum + v, 0);
  const count = (value: number, diagonal: boolean): number => {
    // One cell of margin, so that the ground is one piece.
    const wide = SIDE + 2;
    const cells = new Uint8Array(wide * wide);
    for (let k = 0; k < grid.length; k += 1) cells[(Math.floor(k / SIDE) + 1) * wide + (k % SIDE) + 1] = grid[k];
    let pieces = 0;
    for (let start = 0; start < cells.length; start += 1) {
      if (cells[start] !== value) continue;
      pieces += 1;
      const stack = [start];
      cells[start] = 2;
      while (stack.length > 0) {
        const at = stack.pop() as number;
        const [x, y] = [at % wide, Math.floor(at / wide)];
        for (let dx = -1; dx <= 1; dx += 1) {
          for (let dy = -1; dy <= 1; dy += 1) {
            if ((!diagonal && dx !== 0 && dy !== 0) || x + dx < 0 || y + dy < 0 || x + dx >= wide || y + dy >= wide)
              continue;
            const next = at + dx + dy * wide;
            if (cells[next] === value) {
              cells[next] = 2;
              stack.push(next);
            }
          }
        }
      }
    }
    return pieces;
  };
  // Openings that meet at a corner only are two. Film that does may be drawn as one island or as two.
  return { area, pieces: count(1, false), holes: [count(0, true) - 1, count(0, false) - 1] };
}

const boxes = fc.array(
  fc.tuple(
    fc.nat(SIDE - 2),
    fc.nat(SIDE - 2),
    fc.integer({ min: 1, max: 9 }),
    fc.integer({ min: 1, max: 9 }),
    fc.boolean(),
  ),
  { minLength: 1, maxLength: 40 },
);

const clipped = ([x, y, w, h]: Box): [number, number, number, number] => [
  x,
  y,
  Math.min(SIDE, x + w),
  Math.min(SIDE, y + h),
];

describe('painting dark and clear in order', () => {
  it('gives the area and the pieces of the same painting on a grid', () => {
    fc.assert(
      fc.property(boxes, fc.boolean(), (list, onlyDark) => {
        const painted = list.map((box): Box => (onlyDark ? [box[0], box[1], box[2], box[3], true] : box));
        const openings = compose(
          painted.map((box): PaintedObject => ({ dark: box[4], regions: [solid(rectangle(...clipped(box)))] })),
        );
        const expected = paintGrid(painted);
        expect(openings.reduce((sum, o) => sum + openingArea(o), 0)).toBeCloseTo(expected.area, 6);
        expect(openings).toHaveLength(expected.pieces);
        const islands = openings.reduce((sum, o) => sum + o.islands.length, 0);
        expect(islands).toBeGreaterThanOrEqual(expected.holes[0]);
        expect(islands).toBeLessThanOrEqual(expected.holes[1]);
      }),
      { numRuns: 600 },
    );
  });

  it('what hangs together at two points, with film between them, is two', () => {
    const box = (x: number, y: number, w: number, h: number, dark: boolean): PaintedObject => ({
      dark,
      regions: [solid(rectangle(x, y, x + w, y + h))],
    });
    const openings = compose([box(12, 15, 8, 7, true), box(10, 19, 9, 4, true), box(12, 19, 7, 3, false)]);
    expect(openings.map((opening) => [openingArea(opening), opening.islands.length])).toEqual([
      [35, 0],
      [15, 0],
    ]);
  });

  it('shared shapes with places give what shapes laid out give', () => {
    fc.assert(
      fc.property(fc.array(fc.tuple(fc.nat(20), fc.nat(20), fc.boolean()), { maxLength: 30 }), (list) => {
        const disc = [solid(ellipse(0, 0, 1.3))];
        const shared = compose(list.map(([x, y, dark]) => ({ dark, regions: disc, at: [x, y] as const })));
        const laid = compose(list.map(([x, y, dark]) => ({ dark, regions: [solid(ellipse(x, y, 1.3))] })));
        const area = (openings: typeof laid): number => openings.reduce((sum, o) => sum + openingArea(o), 0);
        expect(shared).toHaveLength(laid.length);
        expect(area(shared)).toBeCloseTo(area(laid), 4);
      }),
      { numRuns: 200 },
    );
  });

  it('leaves the points of what stands alone untouched', () => {
    const ring = ellipse(0.1234567, 7.7654321, 0.15);
    expect(compose([{ dark: true, regions: [solid(ring)] }])[0].outer).toBe(ring);
  });
});

const at = (x: number, y: number, tag: OpeningTag, dark = true): PaintedObject => ({
  dark,
  regions: [solid(rectangle(x, y, x + 1, y + 1))],
  tag,
});

describe('what is painted again at the same place', () => {
  it('is painted once, whatever other shapes lie there, and keeps its points', () => {
    const shapes = [0.3, 0.5, 0.7].map((size) => solid(rectangle(-size, -size, size, size)));
    const places = Array.from({ length: 60 }, (_, i): [number, number] => [4 * (i % 4), 4 * Math.floor(i / 4)]);
    const flash = (shape: (typeof shapes)[number]): PaintedObject[] =>
      places.map((at) => ({ dark: true, regions: [shape], at }));
    const once = compose(flash(shapes[0]));
    expect(compose([...flash(shapes[0]), ...flash(shapes[0]), ...flash(shapes[0])])).toEqual(once);
    const large = compose([...shapes, ...shapes].flatMap(flash));
    expect(large).toHaveLength(places.length);
    for (const opening of large) expect(openingArea(opening)).toBeCloseTo(1.4 ** 2, 9);
  });
});

describe('tags and order', () => {
  it('openings come in the order in which their first part was painted', () => {
    const openings = compose([
      at(10, 0, { line: 1 }),
      at(0, 0, { line: 2 }),
      at(5, 0, { line: 3 }),
      at(10.5, 0, { line: 4 }),
    ]);
    expect(openings.map((o) => o.tag?.line)).toEqual([1, 2, 3]);
  });

  it('a merged opening keeps what its parts agree on', () => {
    const pad = { drawn: 'flash', component: 'U1', pin: '3', attributes: { '.N': 'GND', '.X': 'a' } } as const;
    const [same] = compose([at(0, 0, pad), at(0.5, 0, { ...pad, attributes: { '.N': 'GND', '.X': 'b' } })]);
    expect(same.tag).toEqual({ drawn: 'flash', component: 'U1', pin: '3', attributes: { '.N': 'GND' } });
    const [mixed] = compose([at(0, 0, pad), at(0.5, 0, { ...pad, drawn: 'stroke', pin: '4' })]);
    expect(mixed.tag).toMatchObject({ drawn: 'mixed', component: 'U1' });
    expect(mixed.tag?.pin).toBeUndefined();
  });

  it('an opening cut in two keeps its tag on both parts, and one that is gone leaves none', () => {
    const cut = compose([
      at(0, 0, { line: 1 }),
      at(5, 0, { line: 2 }),
      { dark: false, regions: [solid(rectangle(0.4, -1, 0.6, 2))] },
      { dark: false, regions: [solid(rectangle(4, -1, 7, 2))] },
    ]);
    expect(cut.map((o) => o.tag?.line)).toEqual([1, 1]);
  });

  it('a land painted into a hole of a plane is its own opening', () => {
    const openings = compose([
      { dark: true, regions: [solid(rectangle(-5, -5, 5, 5))], tag: { drawn: 'region' } },
      { dark: false, regions: [solid(rectangle(-1, -1, 2, 2))] },
      at(0, 0, { drawn: 'flash' }),
    ]);
    expect(openings.map((o) => o.tag?.drawn)).toEqual(['region', 'flash']);
    expect(openings[0].islands).toHaveLength(1);
  });
});

describe('too much to work out', () => {
  it('thousands of shapes on one heap are refused, not tried', () => {
    const disc = [solid(ellipse(0, 0, 5))];
    const heap = Array.from(
      { length: 7000 },
      (_, i): PaintedObject => ({ dark: true, regions: disc, at: [i * 1e-5, 0] }),
    );
    expect(() => compose(heap)).toThrowError(/lie on top of each other/);
  });
});
