import { describe, expect, it } from 'vitest';
import { traceGrey } from '../../../../src/artwork/image/trace/trace.js';
import { openingArea } from '../../../../src/geometry/area.js';
import { ringBounds } from '../../../../src/geometry/bounds.js';
import type { Point, Ring } from '../../../../src/geometry/types.js';
import { seeded } from '../../../virtual-laser/random.js';
import { bitImage } from './raster.js';

const DEGREE = Math.PI / 180;

/** A rectangle with round corners about (x, y), pixels. */
function rounded(x: number, y: number, wide: number, tall: number, radius: number): Ring {
  const corners = [
    [1, 1, 0],
    [-1, 1, 90],
    [-1, -1, 180],
    [1, -1, 270],
  ];
  return corners.flatMap(([sx, sy, from]) =>
    Array.from({ length: 31 }, (_, k): Point => {
      const angle = (from + 3 * k) * DEGREE;
      return [
        x + sx * (wide / 2 - radius) + radius * Math.cos(angle),
        y + sy * (tall / 2 - radius) + radius * Math.sin(angle),
      ];
    }),
  );
}

describe('rounded pads of a 1-bit image', () => {
  it.each([600, 1200])('are as long as their samples allow, and right on average, at %d dpi', (dpi) => {
    const [wide, tall] = [(0.81 * dpi) / 25.4, (0.352 * dpi) / 25.4];
    const random = seeded(dpi);
    const lengths: number[] = [];
    const areas: number[] = [];
    for (let n = 0; n < 150; n += 1) {
      const radius = (tall / 2) * (0.25 + 0.7 * random());
      const ring = rounded(30 + random(), 20 + random(), wide, tall, radius);
      const { width, height, data } = bitImage([ring], 60, 40);
      const [opening] = traceGrey({ width, height, data }, { x: 1, y: 1 });
      const { minX, maxX } = ringBounds(opening.outer);
      lengths.push(maxX - minX - wide);
      areas.push(openingArea(opening) / openingArea({ outer: ring, islands: [] }) - 1);
    }
    const mean = (values: readonly number[]): number => values.reduce((sum, v) => sum + v, 0) / values.length;
    // Each end lies between two samples, a pixel apart: 21 um at 1200 dpi; before they were held to them, 2.3 pixels.
    expect(Math.max(...lengths.map(Math.abs))).toBeLessThan(1.9);
    expect(Math.abs(mean(lengths))).toBeLessThan(0.35);
    expect(Math.abs(mean(areas))).toBeLessThan(0.01);
  });
});
