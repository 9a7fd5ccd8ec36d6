import { describe, expect, it } from 'vitest';
import { CoverGrid } from '../../src/dots/beam-grid.js';
import { type GriddedShape, laidOn } from '../../src/dots/lay-on-grid.js';
import { canCome, canGo, settle } from '../../src/dots/settle.js';
import { toPixelShape } from '../../src/dots/shape.js';
import { classifyShapes } from '../../src/dots/shape-classes.js';
import { mapOpening, rotation } from '../../src/geometry/affine.js';
import { solid } from '../../src/geometry/shapes.js';
import { box } from '../export/boards.js';

const SAME = { a: 1, b: 0, c: 0, d: 1, e: 0, f: 0 };

function laid(width: number, height: number, angleDeg: number): GriddedShape {
  const [found] = classifyShapes([toPixelShape(mapOpening(rotation(angleDeg), solid(box(width, height))), SAME)]);
  return laidOn(found, 0.25, 0.5);
}

const allOf = ({ outer }: GriddedShape): number[] => [...outer.keys()];

const FREE = { areaWeight: 0, areaGoal: 0, mayCome: () => true, mayGo: () => true, stands: () => true };

describe('settling', () => {
  it.each([0.1, 0.3, 5, 33])('walks stairs of hundreds of dots to their end, at %s degrees', (angleDeg) => {
    const shape = laid(700, 60, angleDeg);
    const grid = new CoverGrid(shape);
    settle(shape, grid, allOf(shape), FREE);
    // Nothing that could still go or come would bring the dots nearer.
    const left = shape.outer.filter((orbit) => {
      const burnt = grid.mask[orbit.dots[0]] === 1;
      if (burnt) return orbit.cover < 0.5 - 1e-9 && canGo(shape, grid.mask, orbit, false);
      return orbit.cover > 0.5 + 1e-9 && canCome(shape, grid.mask, orbit);
    });
    expect(left).toEqual([]);
    // Dots that are covered by half or more have the area of the shape.
    expect(Math.abs(grid.area / (700 * 60) - 1)).toBeLessThan(0.002);
    const counted = grid.mask.reduce((sum, on) => sum + on, 0);
    expect(grid.area).toBe(counted);
  });

  it('leaves what it may not touch', () => {
    const shape = laid(40, 9, 12);
    const grid = new CoverGrid(shape);
    const before = grid.mask.slice();
    settle(shape, grid, allOf(shape), { ...FREE, mayGo: () => false });
    expect(grid.mask).toEqual(before);
  });
});
