import { describe, expect, it } from 'vitest';
import { openingCentroid } from '../../src/geometry/area.js';
import { move } from '../../src/geometry/copies.js';
import { shareShapes } from '../../src/geometry/shape-cache.js';
import { ellipse, rectangle, solid } from '../../src/geometry/shapes.js';
import type { Region } from '../../src/geometry/types.js';
import { seeded } from '../virtual-laser/random.js';

/** A traced pad: points along the walls of a rectangle, each a little off. */
function traced(width: number, height: number, x: number, y: number, random: () => number): Region {
  const ring = rectangle(0, 0, width, height).flatMap(([ax, ay], i, all): [number, number][] => {
    const [bx, by] = all[(i + 1) % 4];
    return [0, 0.3, 0.7].map((t) => [
      ax + t * (bx - ax) + 0.0004 * (random() - 0.5),
      ay + t * (by - ay) + 0.0004 * (random() - 0.5),
    ]);
  });
  return move(solid(ring), x, y);
}

describe('openings that are alike', () => {
  it('share one shape and keep their places', () => {
    const random = seeded(4);
    const pads = Array.from({ length: 50 }, (_, i) => traced(0.3, 0.8, 1.37 * i, 0.61 * i, random));
    const shared = shareShapes(pads, 0.0013);
    const shapes = new Set(
      shared.map(({ outer }) =>
        outer.map(([x, y]) => `${(x - outer[0][0]).toFixed(7)},${(y - outer[0][1]).toFixed(7)}`).join(' '),
      ),
    );
    expect(shapes.size).toBe(1);
    shared.forEach((pad, i) => {
      expect(openingCentroid(pad)[0]).toBeCloseTo(openingCentroid(pads[i])[0], 9);
      expect(openingCentroid(pad)[1]).toBeCloseTo(openingCentroid(pads[i])[1], 9);
    });
  });

  it('are not mixed up with others: another size, a rounded or a turned one, one with an island', () => {
    const island = { outer: rectangle(0, 0, 1, 1), islands: [rectangle(0.4, 0.4, 0.6, 0.6).toReversed()] };
    const shapes = [
      solid(rectangle(0, 0, 0.3, 0.8)),
      solid(rectangle(0, 0, 0.303, 0.8)),
      solid(rectangle(0, 0, 0.8, 0.3)),
      solid(ellipse(0, 0, 0.15, 0.4)),
      island,
    ];
    expect(shareShapes(shapes, 0.0013)).toEqual(shapes);
  });
});
