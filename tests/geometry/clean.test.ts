import { Clipper, FillRule } from 'clipper2-ts';
import { describe, expect, it } from 'vitest';
import { BUILT_IN_PATTERNS } from '../../src/coupon/built-in.js';
import { InputError } from '../../src/errors.js';
import { openingArea, ringArea } from '../../src/geometry/area.js';
import { cleanOpenings } from '../../src/geometry/clean.js';
import type { Opening, Point, Ring } from '../../src/geometry/types.js';
import {
  checkOpenings,
  correctOpenings,
  generateCoupon,
  predictCut,
  readRules,
  treatOpenings,
  writeArtwork,
} from '../../src/index.js';
import { seeded } from '../virtual-laser/random.js';

const MODEL = { scaleX: 1.01, scaleY: 0.99, shear: 0.002, kerfXMm: 0.12, kerfYMm: 0.1 };
/** An L with two doubled points: 4.32 mm² come back at a kerf of 0. */
const DOUBLED: Ring = [
  [1, 1],
  [4, 1],
  [4, 1],
  [4, 2],
  [2, 2],
  [2, 2],
  [2, 4],
  [1, 4],
];
const L: Ring = [
  [1, 1],
  [4, 1],
  [4, 2],
  [2, 2],
  [2, 4],
  [1, 4],
];
const SQUARE: Ring = [
  [0, 0],
  [3, 0],
  [3, 3],
  [0, 3],
];
const BOW: Ring = [
  [0, 0],
  [2, 2],
  [2, 0],
  [0, 2],
];
const inside = (from: number, to: number): Ring => [
  [from, from],
  [from, to],
  [to, to],
  [to, from],
];
const solid = (outer: Ring, ...islands: Ring[]): Opening => ({ outer, islands });
const codes = (warnings: readonly { code: string }[]): string[] => warnings.map(({ code }) => code);
const areaCut = (openings: readonly Opening[]): number =>
  predictCut(correctOpenings(openings, MODEL).openings, MODEL).items.reduce(
    (sum, { cutAreaMm2 }) => sum + cutAreaMm2,
    0,
  );

describe('the door of the library', () => {
  it('takes doubled points and rings of either direction alike', () => {
    const right = areaCut([solid(L)]);
    expect(right).toBeGreaterThan(4.9);
    const around = solid(SQUARE, inside(1, 2));
    for (const outer of [DOUBLED, [...L, L[0]], L.toReversed(), DOUBLED.toReversed()])
      expect(areaCut([solid(outer)])).toBeCloseTo(right, 6);
    const ring = areaCut([around]);
    for (const turned of [solid(SQUARE.toReversed(), inside(1, 2)), solid(SQUARE, inside(1, 2).toReversed())])
      expect(areaCut([turned])).toBeCloseTo(ring, 6);
  });

  it('every entry takes what it cleans', async () => {
    const rules = await readRules('{"format":"apertrue-rules","version":1,"name":"none","rules":[]}', 'none.json');
    const given = [solid(DOUBLED.toReversed())];
    expect(checkOpenings(given, { thicknessMm: 0.1 }).openings[0].areaMm2).toBeCloseTo(5, 9);
    expect(ringArea(treatOpenings(given, rules, { thicknessMm: 0.1 }).openings[0].outer)).toBeCloseTo(5, 9);
    const write = (openings: Opening[]) =>
      writeArtwork(openings, { format: 'dxf', canvas: { widthMm: 6, heightMm: 6 } });
    expect((await write(given)).bytes).toEqual((await write([solid(L)])).bytes);
  });

  it.each([
    ['an island outside', solid(SQUARE, inside(5, 6)), 9],
    ['an island across the ring', solid(SQUARE, inside(2, 4)), 8],
    ['an island along the ring', solid(SQUARE, inside(0, 1)), 8],
    [
      'an island that touches at a corner',
      solid(SQUARE, [
        [0, 0],
        [1, 2],
        [2, 1],
      ]),
      7.5,
    ],
    ['two islands that overlap', solid(SQUARE, inside(0.5, 1.5), inside(1, 2)), 7.25],
    ['a ring that goes around twice', solid([...SQUARE, ...SQUARE]), 9],
    [
      'a loop within',
      solid([
        [0, 0],
        [4, 0],
        [4, 4],
        [2, 4],
        [2, 1],
        [3, 1],
        [3, 3],
        [0, 3],
      ]),
      14,
    ],
    [
      'a spike without width',
      solid([
        [0, 0],
        [3, 0],
        [5, 0],
        [3, 0],
        [3, 3],
        [0, 3],
      ]),
      9,
    ],
  ])('%s is resolved, and that is told', (_, opening, areaMm2) => {
    const { openings, warnings } = cleanOpenings([solid(L), opening]);
    expect(openings).toHaveLength(2);
    expect(openingArea(openings[1])).toBeCloseTo(areaMm2, 3);
    expect(warnings).toMatchObject([{ code: 'OPENING_RESOLVED', openings: [2] }]);
    expect(codes(correctOpenings([opening], MODEL).warnings)).toContain('OPENING_RESOLVED');
    expect(codes(predictCut([opening], MODEL).warnings)).toContain('OPENING_RESOLVED');
  });

  it.each<[string, Opening, string]>([
    ['a bow tie', solid(BOW), 'falls into 2 pieces'],
    [
      'an island that cuts it in two',
      solid(SQUARE, [
        [-1, 1],
        [-1, 2],
        [4, 2],
        [4, 1],
      ]),
      'falls into 2 pieces',
    ],
    ['an island over all of it', solid(SQUARE, inside(-1, 4)), 'covered'],
    [
      'two points',
      solid([
        [0, 0],
        [1, 1],
      ]),
      '2 points',
    ],
    [
      'no number',
      solid([
        [0, 0],
        [1, 0],
        [Number.NaN, 1],
      ]),
      'no number',
    ],
    [
      'infinity',
      solid([
        [0, 0],
        [1, 0],
        [Infinity, 1],
      ]),
      'no number',
    ],
    [
      'a kilometre',
      solid([
        [0, 0],
        [1e6, 0],
        [1, 1],
      ]),
      'ten metres',
    ],
    [
      'an island of no number',
      solid(SQUARE, [
        [1, 1],
        [1, Number.NaN],
        [2, 1],
      ]),
      'no number',
    ],
  ])('%s is refused with its number', (_, opening, words) => {
    const wrong = { code: 'BAD_OPENING', message: expect.stringMatching(new RegExp(`opening 2 .*${words}`)) };
    const given = [solid(L), opening];
    for (const enter of [
      () => correctOpenings(given, MODEL),
      () => predictCut(given, MODEL),
      () => checkOpenings(given, { thicknessMm: 0.1 }),
    ])
      expect(enter).toThrowError(
        expect.objectContaining({ name: 'InputError', problems: [expect.objectContaining(wrong)] }),
      );
  });

  it('stars of any points in any order are resolved to what a general polygon library fills, or refused', () => {
    const random = seeded(3);
    for (let n = 0; n < 300; n += 1) {
      const ring = Array.from({ length: 3 + Math.floor(random() * 6) }, (): Point => [random() * 4, random() * 4]);
      const filled = Clipper.unionD([ring.map(([x, y]) => ({ x, y }))], [], FillRule.NonZero, 5);
      const areaMm2 = filled.reduce((sum, path) => sum + Clipper.areaD(path), 0);
      try {
        const [{ outer, islands }] = cleanOpenings([solid(ring)]).openings;
        expect(ringArea(outer)).toBeGreaterThan(0);
        for (const island of islands) expect(ringArea(island)).toBeLessThan(0);
        expect(openingArea({ outer, islands })).toBeCloseTo(areaMm2, 3);
      } catch (error) {
        if (!(error instanceof InputError)) throw error;
        expect(filled.filter((path) => Clipper.areaD(path) > 0).length).not.toBe(1);
      }
    }
  });

  it('coupons are sound by themselves', async () => {
    for (const name of BUILT_IN_PATTERNS) {
      const { openings } = await generateCoupon(name, { widthMm: 150, heightMm: 100, pitchXMm: 0.0254 });
      for (const { outer, islands } of openings) {
        expect(ringArea(outer)).toBeGreaterThan(0);
        for (const island of islands) expect(ringArea(island)).toBeLessThan(0);
      }
      expect(cleanOpenings(openings).warnings).toEqual([]);
    }
  });
});
