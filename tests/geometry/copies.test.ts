import { expect, it } from 'vitest';
import { openingArea } from '../../src/geometry/area.js';
import { boundsOf, regionBounds } from '../../src/geometry/bounds.js';
import { copyAt, copyOf, move } from '../../src/geometry/copies.js';
import { ShapeCache } from '../../src/geometry/shape-cache.js';
import { ellipse, rectangle, solid } from '../../src/geometry/shapes.js';

const holed = { outer: rectangle(0, 0, 2, 1), islands: [rectangle(0.5, 0.25, 1, 0.75).toReversed()] };

it('a copy has the points of its shape, moved, and looks like any other opening', () => {
  const copy = copyAt(holed, 3, -1, { drawn: 'flash' });
  const plain = { ...move(holed, 3, -1), tag: { drawn: 'flash' as const } };
  expect(copy).toEqual(plain);
  expect(JSON.parse(JSON.stringify(copy))).toEqual(plain);
  expect(structuredClone(copy)).toEqual(plain);
  expect(copyAt(copy, 1, 1)).toEqual(move(holed, 4, 0));
  expect(copyOf(copyAt(copy, 1, 1))?.shape).toBe(holed);
});

it('what is made from a copy by spreading is no copy any more', () => {
  const copy = copyAt(holed, 3, -1);
  const changed = { ...copy, outer: rectangle(0, 0, 9, 9) };
  expect(copyOf(changed)).toBeUndefined();
  expect(regionBounds(changed).maxX).toBe(9);
  expect(openingArea(changed)).toBeCloseTo(81 - 0.25, 12);
});

it('box and area are those of its points', () => {
  const copies = [copyAt(solid(ellipse(0.3, 0.2, 0.5)), 10, 20), copyAt(holed, -7, 2)];
  const plain = copies.map(({ outer, islands }) => ({ outer, islands }));
  expect(boundsOf(copies)).toEqual(boundsOf(plain));
  copies.forEach((copy, i) => {
    expect(openingArea(copy)).toBeCloseTo(openingArea(plain[i]), 12);
  });
});

it('a shape is worked out once for its copies and for openings with the same points', () => {
  let calls = 0;
  const cache = new ShapeCache((region) => {
    calls += 1;
    return openingArea(region);
  });
  for (let i = 0; i < 5; i += 1) {
    const { result, at } = cache.get(i % 2 === 0 ? copyAt(holed, i, 0) : move(holed, i, 0));
    expect(result).toBeCloseTo(1.75, 12);
    expect(at).toEqual([i, 0]);
  }
  expect(calls).toBe(1);
});
