import { describe, expect, it } from 'vitest';
import { compose, type PaintedObject } from '../../../src/artwork/paint/compose.js';
import { openingArea } from '../../../src/geometry/area.js';
import { boundsOf } from '../../../src/geometry/bounds.js';
import { ellipse, rectangle, solid } from '../../../src/geometry/shapes.js';
import type { Box } from '../../../src/geometry/types.js';

describe('equal groups on a panel', () => {
  const land = [solid(rectangle(-1, -1, 1, 1))];
  const bar = [solid(rectangle(-0.2, -2, 0.2, 2))];
  const dot = [solid(ellipse(0, 0, 0.5))];
  const group = (x: number, y: number, name: string): PaintedObject[] => [
    { dark: true, regions: land, at: [x, y], tag: { component: name } },
    { dark: false, regions: bar, at: [x, y] },
    { dark: true, regions: dot, at: [x + 1, y], tag: { component: name } },
  ];
  const places = Array.from({ length: 60 }, (_, i): [number, number] => [(i % 10) * 7.1, Math.floor(i / 10) * 5.3]);

  it('come out equal, each at its place and with its own tags', () => {
    const openings = compose(places.flatMap(([x, y], i) => group(x, y, `U${i}`)));
    expect(openings).toHaveLength(120);
    places.forEach(([x, y], i) => {
      const own = openings.filter(({ tag }) => tag?.component === `U${i}`);
      expect(own).toHaveLength(2);
      const areas = own.map(openingArea).sort((p, q) => p - q);
      expect(areas[0]).toBeCloseTo(1.6, 5);
      expect(areas[1]).toBeCloseTo(1.6 + Math.PI / 8, 5);
      const box = boundsOf(own) as Box;
      expect([box.minX - x, box.maxX - x, box.minY - y, box.maxY - y].map((v) => Number(v.toFixed(3)))).toEqual([
        -1, 1.5, -1, 1,
      ]);
    });
  });

  it('differ when one shape lies elsewhere or is erased instead', () => {
    const moved = group(20, 0, 'B').map((object, i) => (i === 2 ? { ...object, at: [20.6, 0] as const } : object));
    const erased = group(40, 0, 'C').map((object, i) => (i === 2 ? { ...object, dark: false } : object));
    const openings = compose([...group(0, 0, 'A'), ...moved, ...erased]);
    const area = (name: string): number =>
      openings.filter(({ tag }) => tag?.component === name).reduce((sum, o) => sum + openingArea(o), 0);
    expect(area('A')).toBeCloseTo(3.2 + Math.PI / 8, 5);
    expect(area('C')).toBeCloseTo(3.2 - Math.PI / 8, 5);
    expect(Math.abs(area('B') - area('A'))).toBeGreaterThan(0.1);
  });
});
