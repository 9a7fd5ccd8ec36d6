import { describe, expect, it } from 'vitest';
import { composeMaps, rotation } from '../../src/geometry/affine.js';
import type { Affine } from '../../src/geometry/types.js';
import { wholeOf } from '../../src/scan/inspect/judge.js';

const DOTS = { x: 47.2, y: 23.6 };
const SIZE = { minX: 0, minY: 0, maxX: 50, maxY: 30 };

/** A stencil of this scale and shear, turned, mirrored or not, in a picture whose rows lie twice as far apart. */
const seen = (scaleX: number, scaleY: number, shear: number, deg: number, mirrored: boolean): Affine =>
  composeMaps(
    { a: mirrored ? -DOTS.x : DOTS.x, b: 0, c: 0, d: DOTS.y, e: 7, f: 9 },
    composeMaps(rotation(deg), { a: scaleX, b: shear, c: 0, d: scaleY, e: 0, f: 0 }),
  );
const whole = (map: Affine) => wholeOf(map, { dotsPerMm: DOTS } as Parameters<typeof wholeOf>[1], SIZE, 0.06);

describe('the size of a stencil as a whole', () => {
  it.each([0, 91, 180, -3])('is told however it lies (%d degrees)', (deg) => {
    for (const mirrored of [false, true]) {
      const found = whole(seen(1.004, 0.997, 0.002, deg, mirrored));
      expect(found?.scaleX).toBeCloseTo(1.004, 9);
      expect(found?.scaleY).toBeCloseTo(0.997, 9);
      expect(found?.leanMm).toBeCloseTo((0.002 / 1.004) * 30, 9);
      expect(found?.wrong).toBe(false);
    }
  });

  it('is wrong from what no scanner is off by, and not where dots alone move the ends of a small stencil', () => {
    expect(whole(seen(1.01, 1, 0, 20, false))?.wrong).toBe(true);
    expect(whole(seen(1, 0.98, 0, 20, false))?.wrong).toBe(true);
    expect(whole(seen(1, 1, 0.01, 20, false))?.wrong).toBe(true);
    expect(whole(seen(1.006, 0.994, 0.006, 20, false))?.wrong).toBe(false);
    const small = { ...SIZE, maxX: 4, maxY: 3 };
    const picture = { dotsPerMm: DOTS } as Parameters<typeof wholeOf>[1];
    const found = wholeOf(seen(1.01, 0.99, 0, 0, false), picture, small, 0.06);
    expect(found?.wrong).toBe(false);
    // What is said of it is where it is judged from.
    expect(found?.judgedFromMm[0]).toBeCloseTo(0.088, 9);
    expect(found?.judgedFromMm[1]).toBeCloseTo(0.081, 9);
    expect(wholeOf(seen(1.0221, 1, 0, 0, false), picture, small, 0.06)?.wrong).toBe(true);
    expect(wholeOf(seen(1.0219, 1, 0, 0, false), picture, small, 0.06)?.wrong).toBe(false);
  });
});
