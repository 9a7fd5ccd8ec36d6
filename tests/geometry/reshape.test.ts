import { describe, expect, it } from 'vitest';
import { mapOpening, rotation } from '../../src/geometry/affine.js';
import { openingArea } from '../../src/geometry/area.js';
import { cutConvex } from '../../src/geometry/convex.js';
import { moveWalls, roundCorners, shrinkToShare, wallsToArea } from '../../src/geometry/reshape.js';
import { ellipse, rectangle, solid } from '../../src/geometry/shapes.js';
import { simplifyRing } from '../../src/geometry/simplify.js';
import type { Region } from '../../src/geometry/types.js';

const total = (regions: readonly Region[]): number => regions.reduce((sum, region) => sum + openingArea(region), 0);

describe('moveWalls', () => {
  it('keeps a slanted rectangle a rectangle', () => {
    const slanted = mapOpening(rotation(37), solid(rectangle(0, 0, 1, 2)));
    const [grown] = moveWalls(slanted, 0.1);
    expect(grown.outer).toHaveLength(4);
    expect(openingArea(grown)).toBeCloseTo(1.2 * 2.2, 5);
    expect(total(moveWalls(slanted, -0.1))).toBeCloseTo(0.8 * 1.8, 5);
  });

  it('grows a disc into a disc', () => {
    expect(total(moveWalls(solid(ellipse(0, 0, 0.5)), 0.1))).toBeCloseTo(Math.PI * 0.36, 3);
  });

  it('shrinks an island when the opening grows', () => {
    const ring: Region = { outer: rectangle(0, 0, 4, 4), islands: [[...rectangle(1, 1, 3, 3)].reverse()] };
    expect(total(moveWalls(ring, 0.1))).toBeCloseTo(4.2 ** 2 - 1.8 ** 2, 4);
  });

  it('leaves nothing when the walls meet', () => {
    expect(moveWalls(solid(rectangle(0, 0, 1, 2)), -0.5)).toEqual([]);
  });
});

describe('areas to order', () => {
  it.each([0.5, 0.9, 1.1, 1.5])('brings a shape to %f of its area', (share) => {
    const shape = solid([
      [0, 0],
      [3, 0],
      [3, 1],
      [1, 1],
      [1, 3],
      [0, 3],
    ]);
    const target = openingArea(shape) * share;
    const delta = wallsToArea([shape], target, share > 1 ? 1 : -1, 1);
    expect(total(moveWalls(shape, delta))).toBeCloseTo(target, 4);
    if (share < 1) expect(total(shrinkToShare(shape, share))).toBeCloseTo(target, 4);
  });
});

describe('roundCorners', () => {
  it('takes (4 - pi) r2 off a rectangle', () => {
    const [rounded] = roundCorners(solid(rectangle(0, 0, 1, 2)), 0.2);
    // Chords lie up to 0.2 um inside of the arcs: two thirds of that on average, along 1.26 mm.
    const lack = 2 - (4 - Math.PI) * 0.04 - total([rounded]);
    expect(lack).toBeGreaterThan(0);
    expect(lack).toBeLessThan(2e-4 * 0.67 * 0.4 * Math.PI);
  });

  it('makes no more corners of a fine pad than a board of 64,000 can have and be read again', () => {
    expect(roundCorners(solid(rectangle(0, 0, 0.25, 1.3)), 0.06)[0].outer.length).toBeLessThan(4_000_000 / 64_000 - 10);
  });
});

describe('cutConvex', () => {
  it('keeps the near side of a straight cut', () => {
    const cut = cutConvex(rectangle(0, 0, 2, 1), [1, 0], 0.5);
    expect(openingArea(solid(cut))).toBeCloseTo(0.5, 12);
    expect(cutConvex(rectangle(0, 0, 2, 1), [1, 0], -1)).toEqual([]);
  });
});

describe('simplifyRing', () => {
  it('takes a wobble out and keeps the corners', () => {
    const wobbly = rectangle(0, 0, 1, 1).flatMap(([x, y], i, all): [number, number][] => {
      const [u, v] = all[(i + 1) % 4];
      return [0, 0.25, 0.5, 0.75].map((t, k) => [
        x + (u - x) * t + (k % 2) * 0.0005,
        y + (v - y) * t - (k % 2) * 0.0005,
      ]);
    });
    expect(simplifyRing(wobbly, 0.002)).toHaveLength(4);
    expect(simplifyRing(wobbly, 0.0001).length).toBeGreaterThan(8);
  });
});
