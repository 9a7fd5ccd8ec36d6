import { describe, expect, it } from 'vitest';
import { rectangle, solid } from '../../../src/geometry/shapes.js';
import type { Box, Point, Ring } from '../../../src/geometry/types.js';
import { numberOn, roomInside } from '../../../src/report/document/draw-stencil.js';

const sizeIn = ({ minX, maxX, minY, maxY }: Box): number => Math.min(0.8 * (maxY - minY), (maxX - minX) / 1.5);
const turned = (ring: Ring, degrees: number): Ring => {
  const [c, s] = [Math.cos((degrees * Math.PI) / 180), Math.sin((degrees * Math.PI) / 180)];
  return ring.map(([x, y]): Point => [c * x - s * y, s * x + c * y]);
};
const SHAPES: Readonly<Record<string, { outer: Ring; islands: Ring[] }>> = {
  L: { outer: [[0, 0], [1.6, 0], [1.6, 0.45], [0.45, 0.45], [0.45, 1.2], [0, 1.2]], islands: [] },
  bar: { outer: [[0, 0], [2, 0], [2, 0.3], [0, 0.3]], islands: [] },
  frame: { outer: [[0, 0], [3, 0], [3, 3], [0, 3]], islands: [[[0.4, 0.4], [0.4, 2.6], [2.6, 2.6], [2.6, 0.4]]] },
  U: { outer: [[0, 0], [2, 0], [2, 2], [1.6, 2], [1.6, 0.4], [0.4, 0.4], [0.4, 2], [0, 2]], islands: [] },
}; // biome-ignore format: one shape a line

/** Crossing number, written without the code under test (W. Randolph Franklin's test, common practice). */
const isIn = (ring: Ring, [x, y]: Point): boolean =>
  ring.reduce((inside, [x1, y1], i) => {
    const [x2, y2] = ring[(i + 1) % ring.length];
    return y1 > y !== y2 > y && x < x1 + ((y - y1) * (x2 - x1)) / (y2 - y1) ? !inside : inside;
  }, false);

describe.each(Object.keys(SHAPES))('room for a number in a %s', (name) => {
  it.each([0, 30, 45, 75, 180])('turned by %d degrees lies within', (degrees) => {
    const outer = turned(SHAPES[name].outer, degrees);
    const islands = SHAPES[name].islands.map((ring) => turned(ring, degrees));
    const box = roomInside({ outer, islands }, sizeIn);
    const size = sizeIn(box);
    expect(size).toBeGreaterThan(0.12);
    const [x, y] = [(box.minX + box.maxX) / 2, (box.minY + box.maxY) / 2];
    // The words, a little smaller, since levels lie apart.
    for (const [dx, dy] of [
      [0, 0],
      [-0.6, -0.3],
      [-0.6, 0.3],
      [0.6, -0.3],
      [0.6, 0.3],
    ]) {
      // biome-ignore format: short
      const at: Point = [x + dx * size, y + dy * size];
      expect([at, isIn(outer, at) && !islands.some((island) => isIn(island, at))]).toEqual([at, true]);
    }
  });
});

it('is the middle of a plain pad, and nothing where there is no opening', () => {
  const outer: Ring = [[1, 1], [3, 1], [3, 2], [1, 2]]; // biome-ignore format: short
  const box = roomInside({ outer, islands: [] }, sizeIn);
  expect([(box.minX + box.maxX) / 2, (box.minY + box.maxY) / 2]).toEqual([2, 1.5]);
});

it('numbers of a picture as large as a wall grow with it; those of a usual board stay as they are', () => {
  const at = (times: number): number => {
    const ring = rectangle(0, 0, 10 * times, 8 * times);
    const frame = { minX: 0, minY: 0, maxX: 36 * times, maxY: 16 * times };
    return numberOn({ number: 7, region: solid(ring) }, frame)!.sizeMm;
  };
  expect([at(1), at(10)]).toEqual([1.5, 6]);
});
