import { describe, expect, it } from 'vitest';
import { rectangle, solid } from '../../src/geometry/shapes.js';
import { narrowestWithin, nearestWebs, websBelow } from '../../src/rules/webs.js';
import { seeded } from '../virtual-laser/random.js';

describe('the narrowest web', () => {
  it('of some openings is the least of all webs between two of them below the limit', () => {
    const random = seeded(11);
    for (let i = 0; i < 60; i += 1) {
      const pads = Array.from({ length: 2 + Math.floor(6 * random()) }, () => {
        const [x, y] = [12 * random(), 12 * random()];
        return solid(rectangle(x, y, x + 0.2 + random(), y + 0.2 + random()));
      });
      const limitMm = 0.5 + 4 * random();
      const members = pads.flatMap((_, k) => (random() < 0.7 ? [k] : []));
      const all = websBelow(pads, limitMm)
        .filter(({ p, q }) => members.includes(p) && members.includes(q))
        .map(({ distanceMm }) => distanceMm);
      const least = narrowestWithin(members, pads, nearestWebs(pads), limitMm);
      expect(least).toBe(all.length > 0 ? Math.min(...all) : undefined);
    }
  });
});
