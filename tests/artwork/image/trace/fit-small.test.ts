/** Shapes of a few pixels, in grey, as paste pads are in a picture of 300 dpi: a pixel is 0.085 mm. */
import { describe, expect, it } from 'vitest';
import { traceGrey } from '../../../../src/artwork/image/trace/trace.js';
import { openingArea, openingCentroid, ringArea } from '../../../../src/geometry/area.js';
import { orientedBox } from '../../../../src/geometry/oriented-box.js';
import { ellipse } from '../../../../src/geometry/shapes.js';
import type { Ring } from '../../../../src/geometry/types.js';
import { cases } from '../../../cases.js';
import { seeded } from '../../../virtual-laser/random.js';
import { disc, greyImage, slanted } from './raster.js';

const PX = { x: 1, y: 1 };

const between = (random: () => number, low: number, high: number): number => low + (high - low) * random();

function obround(cx: number, cy: number, wide: number, tall: number): Ring {
  const half = (tall - wide) / 2;
  return ellipse(0, 0, wide / 2).map(([x, y]): [number, number] => [cx + x, cy + y + (y >= 0 ? half : -half)]);
}

const KINDS: [what: string, make: (cx: number, cy: number, random: () => number) => Ring][] = [
  ['discs', (x, y, random) => disc(x, y, between(random, 1.25, 4))],
  ['slots', (x, y, random) => slanted(x, y, between(random, 2.5, 5), between(random, 5, 16), 0)],
  ['turned slots', (x, y, random) => slanted(x, y, between(random, 2.5, 5), between(random, 5, 16), 180 * random())],
  ['squares', (x, y, random) => slanted(x, y, between(random, 2.5, 8), between(random, 2.5, 8), 0)],
  ['turned squares', (x, y, random) => slanted(x, y, between(random, 3, 8), between(random, 3, 8), 180 * random())],
  ['obrounds', (x, y, random) => obround(x, y, between(random, 2.5, 6), between(random, 6, 12))],
];

const sizeOf = (ring: Ring): number[] => {
  const { widthMm, heightMm } = orientedBox(ring);
  return [Math.max(widthMm, heightMm), Math.min(widthMm, heightMm)];
};

/** Largest errors: share of the area, and the centre, pixels. */
function errorsOf(rings: readonly Ring[], data: Uint8Array, width: number, height: number) {
  const openings = traceGrey({ width, height, data }, PX);
  expect(openings).toHaveLength(rings.length);
  const asked = rings.map((ring) => ({ outer: ring.map(([x, y]): [number, number] => [x, height - y]), islands: [] }));
  return openings.map((opening) => {
    const [x, y] = openingCentroid(opening);
    const off = asked.map((each) => Math.hypot(openingCentroid(each)[0] - x, openingCentroid(each)[1] - y));
    const place = Math.min(...off);
    const own = asked[off.indexOf(place)];
    const [long, short] = sizeOf(opening.outer);
    const [wantedLong, wantedShort] = sizeOf(own.outer);
    return {
      area: Math.abs(openingArea(opening) / Math.abs(ringArea(own.outer)) - 1),
      place,
      size: Math.max(Math.abs(long - wantedLong), Math.abs(short - wantedShort)),
    };
  });
}

const most = <K extends string>(list: readonly Record<K, number>[], key: K): number =>
  Math.max(...list.map((each) => each[key]));

describe('small shapes in grey', () => {
  it.each(KINDS)('%s have the area that their pixels cover, in its place', (_what, make) => {
    const random = seeded(300);
    const errors = Array.from({ length: cases(40) }, () => {
      const ring = make(16 + random(), 16 + random(), random);
      return errorsOf([ring], greyImage([ring], 33, 33).data, 33, 33)[0];
    });
    expect(most(errors, 'area')).toBeLessThan(0.004);
    expect(most(errors, 'place')).toBeLessThan(0.03);
  });

  it.each(KINDS.slice(0, 3))('%s are as long and as wide as drawn', (_what, make) => {
    const random = seeded(301);
    const errors = Array.from({ length: cases(40) }, () => {
      const ring = make(16 + random(), 16 + random(), random);
      return errorsOf([ring], greyImage([ring], 33, 33).data, 33, 33)[0];
    });
    expect(most(errors, 'size')).toBeLessThan(0.12);
  });

  it('a row of leads keeps its widths where only two pixels of film lie between them', () => {
    const random = seeded(302);
    for (let n = 0; n < cases(5); n += 1) {
      // 0.25 mm wide at a pitch of 0.5 mm.
      const leads = Array.from({ length: 8 }, (_, i) =>
        slanted(6.1 + random() + i * 5.9055, 14.3 + random(), 2.953, 14, 0),
      );
      const errors = errorsOf(leads, greyImage(leads, 60, 30).data, 60, 30);
      expect(most(errors, 'area')).toBeLessThan(0.004);
      expect(most(errors, 'size')).toBeLessThan(0.03);
    }
  });

  it('edges that are soft by some pixels cost little', () => {
    const random = seeded(303);
    const errors = Array.from({ length: cases(30) }, () => {
      const ring = slanted(16 + random(), 16 + random(), between(random, 3, 5), between(random, 6, 14), 180 * random());
      return errorsOf([ring], softened(greyImage([ring], 33, 33).data, 33), 33, 33)[0];
    });
    expect(most(errors, 'area')).toBeLessThan(0.03);
    expect(most(errors, 'size')).toBeLessThan(0.5);
  });

  it('what it can not take by itself stays as traced: islands, and shapes that touch', () => {
    const frame = [slanted(12, 12, 9, 9, 0), slanted(12, 12, 5, 5, 0).toReversed()];
    const [opening] = traceGrey(greyImage(frame, 24, 24), PX);
    expect(opening.islands).toHaveLength(1);
    expect(openingArea(opening)).toBeCloseTo(56, 0);
    // Half a pixel of film between them: two openings, or one, but no more area than was drawn.
    const pair = [slanted(9.2, 12, 4, 10, 0), slanted(13.7, 12, 4, 10, 0)];
    const area = traceGrey(greyImage(pair, 24, 24), PX).reduce((sum, each) => sum + openingArea(each), 0);
    expect(Math.abs(area / 80 - 1)).toBeLessThan(0.05);
  });
});

/** A picture as it looks through a lens: each pixel is a quarter of every neighbour by side, twice (binomial). */
function softened(data: Uint8Array, width: number): Uint8Array {
  const across = (step: number) => (from: Uint8Array) =>
    from.map((value, at) => Math.round(((from[at - step] ?? 0) + 2 * value + (from[at + step] ?? 0)) / 4));
  return across(width)(across(1)(data));
}
