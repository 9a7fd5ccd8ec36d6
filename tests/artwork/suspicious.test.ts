import { describe, expect, it } from 'vitest';
import { findSuspicious } from '../../src/artwork/suspicious.js';
import { rectangle } from '../../src/geometry/shapes.js';
import type { Opening, OpeningTag } from '../../src/geometry/types.js';

const box = (x: number, y: number, w: number, h: number, drawn: OpeningTag['drawn'] = 'flash'): Opening => ({
  outer: rectangle(x, y, x + w, y + h),
  islands: [],
  tag: { drawn },
});
const pads = Array.from({ length: 20 }, (_, i) => box(2 * (i % 5), 3 * Math.floor(i / 5), 1, 0.5));
const told = (openings: readonly Opening[], board?: Parameters<typeof findSuspicious>[1]): [string, number[]][] =>
  findSuspicious(openings, board).map(({ code, openings: numbers }) => [code, [...(numbers ?? [])]]);

describe('suspicious openings', () => {
  it('are none on an ordinary layer', () => {
    expect(told(pads)).toEqual([]);
    expect(told([])).toEqual([]);
  });

  it('a frame around everything', () => {
    const frame: Opening = {
      outer: rectangle(-2, -2, 12, 14),
      islands: [rectangle(-1.8, -1.8, 11.8, 13.8).toReversed()],
      tag: { drawn: 'stroke' },
    };
    expect(told([...pads, frame])).toEqual([['LOOKS_LIKE_FRAME', [21]]]);
  });

  it('letters and lines drawn with strokes, but not lands painted with them', () => {
    const letter: Opening = {
      outer: [
        [0, 20],
        [1, 20],
        [1, 20.2],
        [0.2, 20.2],
        [0.2, 21.5],
        [0, 21.5],
      ],
      islands: [],
      tag: { drawn: 'stroke' },
    };
    const painted = box(3, 20, 1.2, 0.6, 'stroke');
    const dash = box(5, 20, 1.5, 0.2, 'stroke');
    expect(told([...pads, letter, painted, dash])).toEqual([['LOOKS_LIKE_DRAWING', [21, 23]]]);
  });

  it('very long thin shapes of any kind', () => {
    expect(told([...pads, box(0, 15, 10, 0.3)])).toEqual([['LOOKS_LIKE_LINE', [21]]]);
    expect(told([...pads, box(0, 15, 3, 0.3)])).toEqual([]);
  });

  it('what lies far from all others', () => {
    expect(told([...pads, box(150, 5, 1, 1)])).toEqual([['FAR_APART', [21]]]);
    expect(told([...pads, box(25, 5, 1, 1)])).toEqual([]);
  });

  it('what lies outside the board, by its box or its outline, named once only', () => {
    const outside = box(40, 5, 1, 1);
    expect(told([...pads, outside], { minX: -5, minY: -5, maxX: 30, maxY: 20 })).toEqual([['OUTSIDE_BOARD', [21]]]);
    expect(told([...pads, outside, box(150, 5, 1, 1)], rectangle(-5, -5, 30, 20))).toEqual([
      ['OUTSIDE_BOARD', [21, 22]],
    ]);
  });
});
