import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { composeMaps, invert, mapPoint, mapRing, rotation } from '../../src/geometry/affine.js';
import { openingArea, openingCentroid, openingPerimeter, ringArea } from '../../src/geometry/area.js';
import { intersectRegions, subtractRegions, unionRegions, unionRings } from '../../src/geometry/boolean.js';
import { move } from '../../src/geometry/copies.js';
import { offsetByEllipse } from '../../src/geometry/offset.js';
import { ShapeCache } from '../../src/geometry/shape-cache.js';
import { ellipse, rectangle, solid } from '../../src/geometry/shapes.js';
import type { Point } from '../../src/geometry/types.js';

describe('areas', () => {
  it('are those of the Gerber layer format specification for its seven-sided region', () => {
    // Ucamco, The Gerber Layer Format Specification, revision 2021.02, 4.10.4.1: points of the comment column.
    const region = solid([
      [2, 3],
      [7, 3],
      [7, 1],
      [11, 5],
      [7, 9],
      [7, 7],
      [2, 7],
    ]);
    expect(openingArea(region)).toBe(36);
    expect(openingPerimeter(region)).toBeCloseTo(29.3137, 4);
  });

  it('lose no digits far from the origin', () => {
    expect(ringArea(rectangle(1e6, 1e6, 1e6 + 0.5, 1e6 + 0.25))).toBe(0.125);
  });

  it('of a disc are exact, and its width is within 0.2 um', () => {
    for (const radius of [0.05, 0.1, 0.5, 3]) {
      const disc = ellipse(7, -3, radius);
      expect(ringArea(disc)).toBeCloseTo(Math.PI * radius ** 2, 12);
      expect(Math.max(...disc.map(([x]) => x)) - 7 - radius).toBeLessThan(2e-4);
    }
  });

  it('have their centre where a ring with an off-centre island has it', () => {
    const [x, y] = openingCentroid({ outer: rectangle(0, 0, 4, 2), islands: [rectangle(2, 0.5, 3, 1.5).toReversed()] });
    expect(x).toBeCloseTo((8 * 2 - 1 * 2.5) / 7, 12);
    expect(y).toBeCloseTo(1, 12);
  });
});

describe('booleans', () => {
  it('keep inclusion and exclusion: |A| + |B| = |A ∪ B| + |A ∩ B|', () => {
    fc.assert(
      fc.property(fc.array(fc.double({ min: 0.1, max: 5, noNaN: true }), { minLength: 8, maxLength: 8 }), (v) => {
        const a = solid(rectangle(v[0], v[1], v[0] + v[2], v[1] + v[3]));
        const b = solid(rectangle(v[4], v[5], v[4] + v[6], v[5] + v[7]));
        const sum = (
          regions:
            | readonly { outer: readonly (readonly [number, number])[]; islands: readonly never[] }[]
            | ReturnType<typeof unionRegions>,
        ): number => regions.reduce((s, r) => s + openingArea(r), 0);
        const union = sum(unionRegions([a, b]));
        const both = sum(intersectRegions([a], [b]));
        expect(union + both).toBeCloseTo(openingArea(a) + openingArea(b), 4);
        expect(sum(subtractRegions([a], [b]))).toBeCloseTo(openingArea(a) - both, 4);
      }),
      { numRuns: 100 },
    );
  });

  it('lose nothing of a ring that goes back on itself by nanometres', () => {
    // The outline of a board, as its lines left it: at its upper left corner it overshoots by 76 nm.
    const board: Point[] = [
      [89.313893, -5.886781],
      [89.312039, -5.88678],
      [39.400912, -5.88678],
      [39.400988, -5.88678],
      [39.396442, -37.337187],
      [89.312038, -37.337188],
    ];
    expect(openingArea(unionRings([board])[0])).toBeCloseTo(ringArea(board), 3);
    const step = fc.integer({ min: -80, max: 80 }).map((nm) => nm * 1e-6);
    const side = fc.double({ min: 0.3, max: 60, noNaN: true });
    fc.assert(
      fc.property(
        side,
        side,
        fc.array(step, { minLength: 4, maxLength: 4 }),
        fc.constantFrom(0, 45, 90, 180, 270),
        (w, h, over, turn) => {
          const corners = rectangle(0, 0, w, h);
          // Each side runs past its end by a step and comes back.
          const ring = corners.flatMap(([x, y], i): Point[] => {
            const [px, py] = corners[(i + 3) % 4];
            const length = Math.hypot(x - px, y - py);
            return [
              [x + ((x - px) / length) * over[i], y + ((y - py) / length) * over[i]],
              [x, y],
            ];
          });
          const union = unionRings([mapRing(rotation(turn), ring)]);
          expect(union.reduce((sum, region) => sum + openingArea(region), 0)).toBeCloseTo(w * h, 2);
        },
      ),
    );
  });

  it('see islands within islands', () => {
    const regions = unionRings([rectangle(0, 0, 9, 9), rectangle(1, 1, 8, 8), rectangle(2, 2, 7, 7)], 'evenodd');
    expect(regions.map((r) => r.islands.length).sort()).toEqual([0, 1]);
  });
});

describe('offsets by an ellipse', () => {
  it('grow a rectangle to the Steiner area', () => {
    const [grown] = offsetByEllipse(solid(rectangle(10, 20, 11, 22)), 0.18, 0.09, 1);
    expect(openingArea(grown)).toBeCloseTo(2 + 1 * 0.09 + 2 * 0.18 + Math.PI * 0.09 * 0.045, 4);
  });
});

describe('maps', () => {
  it('come back through their inverse', () => {
    const map = composeMaps({ a: 1.01, b: 0.02, c: -0.1, d: 0.97, e: 5, f: -7 }, rotation(33));
    const [x, y] = mapPoint(invert(map), mapPoint(map, [12.5, -3.25]));
    expect(x).toBeCloseTo(12.5, 12);
    expect(y).toBeCloseTo(-3.25, 12);
  });

  it('turn by right angles without rounding', () => {
    expect(mapRing(rotation(90), [[1, 2]])).toEqual([[-2, 1]]);
  });
});

describe('the shape cache', () => {
  it('works a shape out once, wherever it lies, and never mixes up two shapes', () => {
    let calls = 0;
    const cache = new ShapeCache((region) => {
      calls += 1;
      return openingArea(region);
    });
    const shape = solid(ellipse(0, 0, 0.4, 0.3));
    for (let i = 0; i < 50; i += 1)
      expect(cache.get(move(shape, i * 1.27, i * 0.333)).result).toBeCloseTo(Math.PI * 0.12, 9);
    expect(calls).toBeLessThanOrEqual(3);
    expect(cache.get(solid(ellipse(0, 0, 0.4, 0.300001))).result).not.toBe(cache.get(shape).result);
  });
});
