import { describe, expect, it } from 'vitest';
import { keepApart } from '../../src/dots/rasterise.js';
import { toPixelShapes } from '../../src/dots/shape.js';
import { type PlacedStamp, stampFromRows } from '../../src/dots/stamp.js';
import type { Point, Ring } from '../../src/geometry/types.js';

const KERF = { x: 6, y: 6 };

const square = (from: number, to: number): Ring => [
  [from, from],
  [to, from],
  [to, to],
  [from, to],
];

/** A pad of 18 dots in a frame, with film of 6 dots around it where the artwork has 6.2: no move sets it free. */
const shapes = toPixelShapes(
  [
    { outer: square(-10, 40.4), islands: [square(0, 30.4)] },
    { outer: square(6.2, 24.2), islands: [] },
  ],
  { a: 1, b: 0, c: 0, d: 1, e: 0, f: 0 },
);

function placed(): PlacedStamp[] {
  const frame = Array.from({ length: 50 }, (_, row) => (row < 10 || row >= 40 ? [0, 50] : [0, 10, 40, 50]));
  const pad = Array.from({ length: 18 }, () => [0, 18]);
  return [
    { stamp: stampFromRows(frame).stamp, column: -10, row: -10 },
    { stamp: stampFromRows(pad).stamp, column: 6, row: 6 },
  ];
}

/** Burnt dots as a set of places. */
function dotsOf({ stamp, column, row }: PlacedStamp): Set<string> {
  const dots = new Set<string>();
  for (let r = 0; r < stamp.height; r += 1) {
    const runs = stamp.rows[r];
    for (let k = 0; k < runs.length; k += 2) {
      for (let x = runs[k]; x < runs[k + 1]; x += 1) dots.add(`${column + x},${row + r}`);
    }
  }
  return dots;
}

/** Whether the beam, a disc as wide as the kerf at each dot, leaves film between all dots of one and of the other. */
function filmBetween(a: PlacedStamp, b: PlacedStamp): boolean {
  const far = [...dotsOf(b)].map((dot) => dot.split(',').map(Number));
  return [...dotsOf(a)].every((dot) => {
    const [x, y] = dot.split(',').map(Number);
    return far.every(
      ([u, v]) => Math.hypot(Math.max(0, Math.abs(u - x) - 1), Math.max(0, Math.abs(v - y) - 1)) > KERF.x,
    );
  });
}

describe('keepApart', () => {
  it('trims the larger of two openings that no move sets free, and leaves the smaller its dots', () => {
    const dots = placed();
    expect(filmBetween(dots[0], dots[1])).toBe(false);
    keepApart(shapes, dots, KERF);
    expect(dotsOf(dots[1])).toEqual(dotsOf(placed()[1]));
    expect(dots[0].stamp.count).toBeLessThan(placed()[0].stamp.count);
    expect(filmBetween(dots[0], dots[1])).toBe(true);
  });

  it('trims the one that yields, be it the smaller', () => {
    const dots = placed();
    keepApart(shapes, dots, KERF, (i) => i === 1);
    expect(dotsOf(dots[0])).toEqual(dotsOf(placed()[0]));
    expect(dots[1].stamp.count).toBeLessThan(placed()[1].stamp.count);
    expect(filmBetween(dots[0], dots[1])).toBe(true);
  });

  it('moves an opening by a dot where that is enough', () => {
    const beside = { ...placed()[1], column: placed()[1].column + 24 };
    const far = toPixelShapes(
      [
        { outer: square(6, 24), islands: [] },
        { outer: square(30.2, 48.2).map(([x, y]): Point => [x, y - 24.2]), islands: [] },
      ],
      { a: 1, b: 0, c: 0, d: 1, e: 0, f: 0 },
    );
    const pair = [placed()[1], beside];
    expect(filmBetween(pair[0], pair[1])).toBe(false);
    keepApart(far, pair, KERF);
    expect(pair.map(({ stamp }) => stamp.count)).toEqual([324, 324]);
    expect(filmBetween(pair[0], pair[1])).toBe(true);
  });
});
