import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { boxDistance } from '../../src/geometry/bounds.js';
import { boxIndex } from '../../src/geometry/box-index.js';
import type { Box } from '../../src/geometry/types.js';
import { WorkBudget } from '../../src/geometry/work-budget.js';

const self = (box: Box): Box => box;
const some = fc
  .tuple(fc.nat(30), fc.nat(30), fc.nat(8), fc.nat(8))
  .map(([x, y, w, h]): Box => ({ minX: x, minY: y, maxX: x + w, maxY: y + h }));
const boxes = fc
  .tuple(fc.array(some, { maxLength: 40 }), fc.constantFrom(0, 1e3, 1e7))
  .map(([near, far]) => (far > 0 ? [...near, { minX: far, minY: -far, maxX: far + 1, maxY: 1 - far }] : near));

describe('an index of boxes', () => {
  it('finds all those that a comparison with each finds, be one of them ever so far off', () => {
    fc.assert(
      fc.property(boxes, some, fc.constantFrom(0, 1, 2.5), (all, box, gap) => {
        const index = boxIndex(all, self);
        const apart = (p: Box, q: Box): boolean => boxDistance(p, q) > gap;
        const expected = [...all.keys()].filter((i) => !apart(all[i], box));
        expect(index.near(box, gap)).toEqual(expected);
        expect(index.some(box, (i) => i === expected.at(-1), gap)).toBe(expected.length > 0);
        const pairs: [number, number][] = [];
        index.eachPair((i, j) => pairs.push([i, j]), gap);
        expect(pairs).toEqual(
          all.flatMap((p, i) => all.flatMap((q, j): [number, number][] => (j > i && !apart(p, q) ? [[i, j]] : []))),
        );
        all.forEach((p, i) => {
          expect(index.nearTo(i, gap)).toEqual([...all.keys()].filter((j) => j !== i && !apart(p, all[j])));
          expect(index.distance(i, 0)).toBe(boxDistance(p, all[0]));
        });
      }),
    );
  });

  it('looks at few others of a board, though one opening lies kilometres away', () => {
    const pads = Array.from({ length: 20_000 }, (_, i): Box => {
      const [x, y] = [i % 150, Math.floor(i / 150)];
      return { minX: x, minY: y, maxX: x + 0.5, maxY: y + 0.5 };
    });
    const budget = new WorkBudget();
    const before = budget.rest;
    budget.run(() => {
      boxIndex([...pads, { minX: 1e7, minY: 1e7, maxX: 1e7 + 1, maxY: 1e7 + 1 }], self).eachPair(() => undefined);
    });
    expect(before - budget.rest).toBeLessThan(20_000);
  });
});
