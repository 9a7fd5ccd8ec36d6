import { describe, expect, it } from 'vitest';
import { copyAt } from '../../src/geometry/copies.js';
import { rectangle, solid } from '../../src/geometry/shapes.js';
import { nearestWebs } from '../../src/rules/webs.js';

describe('a panel with more openings than a call takes arguments', () => {
  it('has the web of each', () => {
    const count = 130_000;
    const one = solid(rectangle(0, 0, 0.3, 0.3));
    const openings = Array.from({ length: count }, (_, i) => copyAt(one, (i % 400) * 0.5, Math.floor(i / 400) * 0.5));
    const webs = nearestWebs(openings);
    expect(webs).toHaveLength(count);
    expect(webs[count - 1]?.distanceMm).toBeCloseTo(0.2, 9);
  });
});
