import { describe, expect, it } from 'vitest';
import { InputError } from '../../src/errors.js';
import { openingArea } from '../../src/geometry/area.js';
import { unionRegions } from '../../src/geometry/boolean.js';
import { sweepWork } from '../../src/geometry/clip-work.js';
import { rectangle, solid } from '../../src/geometry/shapes.js';
import { budgetInForce, WorkBudget } from '../../src/geometry/work-budget.js';

/** `count` bars each way, 0.5 wide, 1 apart: count² crossings of bars, four of walls each. */
const lattice = (count: number) =>
  Array.from({ length: count }, (_, i) => [
    solid(rectangle(i + 0.25, 0, i + 0.75, count)),
    solid(rectangle(0, i + 0.25, count, i + 0.75)),
  ]).flat();

describe('the work that clipping takes', () => {
  it('is counted before it is done: a lattice has four crossings of walls at each crossing of bars', () => {
    const rings = lattice(12).map(({ outer }) => outer.map(([x, y]) => ({ x: x * 1000, y: y * 1000 })));
    expect(sweepWork(rings, () => false).crossings).toBe(4 * 12 * 12);
    expect(sweepWork(rings, ({ crossings }) => crossings > 100).crossings).toBeLessThan(4 * 12 * 12);
  });

  it('a union without a limit is exact and has an island for each mesh', () => {
    const [net] = unionRegions(lattice(30));
    expect(net.islands).toHaveLength(29 * 29);
    expect(openingArea(net)).toBeCloseTo(2 * 30 * 15 - 30 * 30 * 0.25, 9);
  });

  it('beyond the limit it ends in TOO_MUCH, several calls together', () => {
    const effort = new WorkBudget(60_000);
    const unite = () => effort.run(() => unionRegions(lattice(30)));
    expect(unite()).toHaveLength(1);
    expect(unite).toThrow(InputError);
    expect(unite).toThrow(expect.objectContaining({ code: 'TOO_MUCH' }));
    expect(budgetInForce()).toBeUndefined();
  });
});
