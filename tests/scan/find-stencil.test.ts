import { describe, expect, it } from 'vitest';
import { generateCoupon } from '../../src/coupon/generate.js';
import type { Opening } from '../../src/geometry/types.js';
import { findConstellation } from '../../src/scan/find/constellation.js';
import { couponOpenings } from '../../src/scan/find/coupon-openings.js';
import { Openings } from '../../src/scan/find/places.js';
import { Scene } from '../../src/scan/find/recognise.js';
import { symmetriesOf } from '../../src/scan/find/symmetries.js';
import { scanFilm, type Vec, type VirtualScan } from './virtual-scanner.js';

const box = ([x, y]: Vec, w: number, h: number): Opening => ({
  outer: [[x - w / 2, y - h / 2], [x + w / 2, y - h / 2], [x + w / 2, y + h / 2], [x - w / 2, y + h / 2]], // biome-ignore format: a ring
  islands: [],
});
const ell = ([x, y]: Vec, size: number): Opening => ({
  outer: [[x, y], [x + size, y], [x + size, y + 0.5], [x + 0.5, y + 0.5], [x + 0.5, y + 0.7 * size], [x, y + 0.7 * size]], // biome-ignore format: a ring
  islands: [],
});
/** Leads around a square, four times n. */
const ring = (n: number): Opening[] =>
  Array.from({ length: 4 * n }, (_, i) => {
    const [t, side] = [((i % n) - (n - 1) / 2) * 0.8, Math.floor(i / n)];
    return side % 2 === 0
      ? box([t, side === 0 ? -4 : 4], 0.4, 1.2)
      : box([side === 1 ? 4 : -4, side === 1 ? t : -t], 1.2, 0.4);
  });

describe('symmetriesOf', () => {
  it.each([
    ['a lone L', [ell([1, 2], 2)], 0],
    ['a lone square', [box([3, 1], 2, 2)], 7],
    ['two unlike pads', [box([0, 0], 1, 1), box([3, 0], 1, 1.1)], 1],
    ['two like pads', [box([0, 0], 1, 1.2), box([3, 0], 1, 1.2)], 3],
    ['a ring of leads', ring(4), 7],
    ['a ring with a pad of its own', [...ring(4), box([-2.2, -2.2], 0.5, 0.5)], 1],
    ['a ring with a pad nowhere alike', [...ring(4), box([-2.2, -1.2], 0.5, 0.5)], 0],
  ] as const)('of %s', (_, openings, count) => {
    const found = symmetriesOf(openings, new Openings(openings).stars, 0.03);
    expect(found).toHaveLength(count);
    for (const { partner } of found) expect([...partner].sort((p, q) => p - q)).toEqual(openings.map((_, i) => i));
  });

  it('of five round pads on a circle, as a dihedral group has', () => {
    const pads = Array.from({ length: 5 }, (_, k) => {
      const at: Vec = [3 * Math.cos(0.3 + 1.25664 * k), 3 * Math.sin(0.3 + 1.25664 * k)];
      const outer = Array.from({ length: 60 }, (_, i): Vec => [at[0] + 0.4 * Math.cos(i * 0.10472), at[1] + 0.4 * Math.sin(i * 0.10472)]); // biome-ignore format: one line
      return { outer, islands: [] };
    });
    expect(symmetriesOf(pads, new Openings(pads).stars, 0.03)).toHaveLength(9);
  });
});

function lookFor(asked: readonly Opening[], over: Partial<VirtualScan>, left = asked) {
  const picture = scanFilm(
    { openings: left, machine: { scaleX: 1.001, scaleY: 0.999, shear: 0.001, kerfXMm: 1e-4, kerfYMm: 1e-4 } },
    {
      ...{ dpi: 600, widthMm: 24, heightMm: 24, atMm: [12, 12], turnDeg: 0, blurMm: 0.03, film: 215, open: 40 },
      ...{ noise: 2, vignette: 0.2, specksPerCm2: 3, hairsPerCm2: 2, scaleX: 0.9985, scaleY: 1.0012, seed: 3 },
      ...over,
    },
  );
  const found = new Scene(picture).findStencil(new Openings(asked), 'darker');
  const turnDeg = found && (Math.atan2(-found.map.c, found.map.a) * 180) / Math.PI;
  return { found, turnDeg, mirrored: found?.mirrored };
}

describe('a stencil in a picture', () => {
  it('that looks the same laid in eight ways is taken to lie upright', () => {
    for (const over of [{ turnDeg: 183 }, { turnDeg: 93, mirrored: true }]) {
      const { turnDeg, mirrored, found } = lookFor(ring(4), over);
      expect(mirrored).toBe(false);
      expect(turnDeg).toBeCloseTo(3, 0);
      expect(found?.alike).toHaveLength(7);
    }
  });

  it('that a single pad tells apart lies as it does', () => {
    const asked = [...ring(4), box([-2.2, -1.2], 0.5, 0.5)];
    for (const over of [{ turnDeg: 137 }, { turnDeg: -80, mirrored: true }]) {
      const { turnDeg, mirrored, found } = lookFor(asked, over);
      expect(mirrored).toBe('mirrored' in over);
      expect(found?.alike).toEqual([]);
      // Mirrored, X points the other way.
      expect(turnDeg).toBeCloseTo(mirrored ? 100 : 137, 0);
    }
  });

  const few = [
    ell([1, 1], 2.4),
    box([-3, 2], 1.6, 0.5),
    box([-2, -3], 0.3, 1.2),
    box([3, -2], 0.8, 0.8),
    box([4, 2.2], 0.4, 0.5),
  ];
  it.each([1, 2, 3, 5])('is found by the outlines of %i openings, however it lies', (count) => {
    for (const over of [{ turnDeg: 31 }, { turnDeg: 252, mirrored: true }]) {
      const { turnDeg = 0, mirrored, found } = lookFor(few.slice(0, count), over);
      expect(mirrored).toBe('mirrored' in over);
      expect(found?.seen).toBe(count);
      expect(found?.twice).toBe(false);
      expect(Math.abs(turnDeg - (mirrored ? 72 : 31))).toBeLessThan(0.7);
    }
  });

  it('of few openings is found with one of them missing, and is not seen in dust', () => {
    expect(lookFor(few, { turnDeg: 31 }, few.slice(1)).found?.seen).toBe(4);
    expect(lookFor(few.slice(2), { turnDeg: 31 }, []).found).toBeUndefined();
    expect(lookFor(few.slice(4), { turnDeg: 31, specksPerCm2: 8 }, []).found).toBeUndefined();
  });

  it('of one opening is not told from another one like it', () => {
    const [one] = few.slice(3, 4);
    expect(lookFor([one], { turnDeg: 31 }, [one, box([-2, 1], 0.8, 0.8)]).found?.twice).toBe(true);
  });
});

it('a grid of marks on a square bed with a barrel is told from itself turned or mirrored by its few letters', async () => {
  const { features } = await generateCoupon('field-grid', { widthMm: 110, heightMm: 110, pitchXMm: 0.0508 });
  const { stars } = new Openings(await couponOpenings(features, []));
  for (const [turnDeg, flip] of [[91, 1], [268, -1]]) {
    const [cos, sin] = [Math.cos((turnDeg * Math.PI) / 180), Math.sin((turnDeg * Math.PI) / 180)];
    const blobs = stars.map(({ at, radius }) => {
      const [dx, dy] = [at[0] - 55, at[1] - 55];
      const out = 1 + 0.3 * (dx * dx + dy * dy) / 77.8 ** 3;
      const [x, y] = [flip * out * dx, out * dy];
      return { at: [12 * (90 + cos * x - sin * y), 12 * (90 - sin * x - cos * y)] as Vec, radius: 12 * (radius + 0.03) };
    });
    const found = findConstellation(stars, blobs, { widthPx: 2160, heightPx: 2160, pxPerMm: 12 });
    expect(found?.blobOf.filter((blob, i) => blob !== i)).toEqual([]);
  }
}); // biome-ignore format: in rows
