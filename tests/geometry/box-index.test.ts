import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { boxIndex } from '../../src/geometry/box-index.js';
import type { Box } from '../../src/geometry/types.js';

describe('boxes near a box', () => {
  it('are all those, each once, that a comparison with all finds', () => {
    const box = fc
      .tuple(fc.nat(30), fc.nat(30), fc.nat(8), fc.nat(8))
      .map(([x, y, w, h]): Box => ({ minX: x, minY: y, maxX: x + w, maxY: y + h }));
    fc.assert(
      fc.property(fc.array(box, { maxLength: 40 }), fc.constantFrom(0, 1, 2.5), (boxes, gap) => {
        const index = boxIndex(boxes);
        for (const p of boxes) {
          const near = boxes.flatMap((q, i) => {
            const [dx, dy] = [
              Math.max(0, p.minX - q.maxX, q.minX - p.maxX),
              Math.max(0, p.minY - q.maxY, q.minY - p.maxY),
            ];
            return Math.hypot(dx, dy) <= gap ? [i] : [];
          });
          expect(index.near(p, gap)).toEqual(near);
        }
      }),
    );
  });
});
