import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { nearPairs } from '../../../src/artwork/paint/near-pairs.js';
import type { Box } from '../../../src/geometry/types.js';

const pairsOf = (boxes: readonly Box[], gapMm: number): string[] => {
  const found: string[] = [];
  nearPairs(boxes, gapMm, (i, j) => found.push(`${Math.min(i, j)} ${Math.max(i, j)}`) > 0);
  return found.sort();
};

describe('pairs of boxes', () => {
  it('are all those, each once, that a comparison of all with all finds', () => {
    const box = fc
      .tuple(fc.nat(30), fc.nat(30), fc.nat(8), fc.nat(8))
      .map(([x, y, w, h]): Box => ({ minX: x, minY: y, maxX: x + w, maxY: y + h }));
    fc.assert(
      fc.property(fc.array(box, { maxLength: 40 }), fc.constantFrom(0, 1, 2.5), (boxes, gap) => {
        const expected: string[] = [];
        boxes.forEach((p, i) => {
          boxes.slice(0, i).forEach((q, j) => {
            const apart = Math.max(p.minX - q.maxX, q.minX - p.maxX, p.minY - q.maxY, q.minY - p.maxY);
            if (apart <= gap) expected.push(`${j} ${i}`);
          });
        });
        expect(pairsOf(boxes, gap)).toEqual(expected.sort());
      }),
    );
  });

  it('stop when they are told to', () => {
    const same: Box = { minX: 0, minY: 0, maxX: 1, maxY: 1 };
    let visits = 0;
    expect(nearPairs([same, same, same, same], 0, () => ++visits < 2)).toBe(false);
    expect(visits).toBe(2);
  });
});
