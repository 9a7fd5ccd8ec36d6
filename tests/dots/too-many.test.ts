import { describe, expect, it } from 'vitest';
import { fitDots } from '../../src/dots/fit-dots.js';
import { areaTrue } from '../../src/dots/rasterise.js';
import { toPixelShape } from '../../src/dots/shape.js';
import { classifyShapes } from '../../src/dots/shape-classes.js';
import type { Point, Ring } from '../../src/geometry/types.js';
import { WorkBudget } from '../../src/geometry/work-budget.js';
import { seeded } from '../virtual-laser/random.js';

const SAME = { a: 1, b: 0, c: 0, d: 1, e: 0, f: 0 };
const DOT = { x: 0.0254, y: 0.0254 };
const KERF_MM = { x: 0.12, y: 0.1 };
const KERF = { x: KERF_MM.x / DOT.x, y: KERF_MM.y / DOT.y };

/** A ragged blob, dots. */
function ragged(random: () => number, size: number, x = 0, y = 0): Ring {
  return Array.from({ length: 60 }, (_, i): Point => {
    const turn = (2 * Math.PI * i) / 60;
    const [reachX, reachY] = [size / 2 + random(), size / 4 + random()];
    return [x + reachX * Math.cos(turn), y + reachY * Math.sin(turn)];
  });
}

const shapeOf = (outer: Ring) => toPixelShape({ outer, islands: [] }, SAME);

describe('very many small shapes, no two of them alike', () => {
  it('are refused before the first is worked out, with their number', () => {
    const random = seeded(2);
    const shapes = Array.from({ length: 200 }, (_, i) => shapeOf(ragged(random, 60, 80 * i)));
    const budget = new WorkBudget(20_000_000);
    expect(() => budget.run(() => areaTrue(shapes, DOT, { x: 1e4, y: 1e4 }, KERF_MM))).toThrow(
      expect.objectContaining({ code: 'TOO_MUCH', message: expect.stringContaining('200 shapes') }),
    );
    expect(budget.rest).toBe(20_000_000);
  });

  it('are looked at in haste when they are fewer, and keep their sizes and areas', () => {
    const random = seeded(3);
    for (let i = 0; i < 6; i += 1) {
      const [found] = classifyShapes([shapeOf(ragged(random, 30))]);
      const { areaErrorPercent, sideErrorsMm, stamp } = fitDots(found, KERF, DOT, { hasty: true });
      expect(stamp.count).toBeGreaterThan(0);
      expect(Math.abs(areaErrorPercent)).toBeLessThan(4.5);
      for (const error of sideErrorsMm) expect(Math.abs(error)).toBeLessThan(0.75 * DOT.x);
    }
  });
});
