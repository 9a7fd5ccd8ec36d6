import { describe, expect, it } from 'vitest';
import { dotRegion } from '../../src/dots/dot-regions.js';
import type { DotRows } from '../../src/dots/stamp.js';
import { seeded } from '../virtual-laser/random.js';

/** Shoelace formula, columns to the right and lines up. */
const areaOf = (ring: readonly (readonly [number, number])[]): number =>
  ring.reduce((sum, [x, y], i) => {
    const [nx, ny] = ring[(i + 1) % ring.length];
    return sum + (x * ny - nx * y) / 2;
  }, 0);
const regionOf = (rows: DotRows) => dotRegion(rows, ([column, line]) => [column, -line]);

describe('dots as a region', () => {
  it('stairs that hang together by corners are one ring, both ways', () => {
    for (const step of [1, -1]) {
      const runs = [0, 1, 2, 3].map((row) => [4 + step * row, 5 + step * row]);
      const { outer, islands } = regionOf(runs);
      expect([areaOf(outer), islands]).toEqual([4, []]);
    }
  });

  it('a ring of dots that meet by corners holds an island', () => {
    const { outer, islands } = regionOf([
      [1, 2],
      [0, 1, 2, 3],
      [1, 2],
    ]);
    expect(areaOf(outer) + islands.reduce((sum, ring) => sum + areaOf(ring), 0)).toBe(4);
  });

  it('whatever walk the dots make, the area is that of the dots', () => {
    const random = seeded(3);
    for (let n = 0; n < 60; n += 1) {
      const dots = new Set<string>();
      let [x, y] = [20, 20];
      for (let i = 0; i < 25; i += 1) {
        dots.add(`${x},${y}`);
        [x, y] = [x + Math.floor(3 * random()) - 1, y + Math.floor(3 * random()) - 1];
      }
      const rows = Array.from({ length: 50 }, (): number[] => []);
      for (let row = 0; row < 50; row += 1) {
        for (let from = 0; from < 50; from += 1) {
          let to = from;
          while (dots.has(`${to},${row}`)) to += 1;
          if (to > from) rows[row].push(from, to);
          from = to;
        }
      }
      const { outer, islands } = regionOf(rows);
      expect(areaOf(outer)).toBeGreaterThan(0);
      expect(islands.every((ring) => areaOf(ring) < 0)).toBe(true);
      expect(areaOf(outer) + islands.reduce((sum, ring) => sum + areaOf(ring), 0)).toBeCloseTo(dots.size, 9);
    }
  });
});
