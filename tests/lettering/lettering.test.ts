import { describe, expect, it } from 'vitest';
import { InputError } from '../../src/errors.js';
import { openingArea } from '../../src/geometry/area.js';
import { subtractRegions, unionRegions } from '../../src/geometry/boolean.js';
import { ringBounds } from '../../src/geometry/bounds.js';
import { offsetByEllipse } from '../../src/geometry/offset.js';
import type { Region } from '../../src/geometry/types.js';
import { LETTERING_CHARACTERS } from '../../src/lettering/glyphs.js';
import { letter, letteringLengthMm, smallestLetteringMm } from '../../src/lettering/lettering.js';

const PITCHES = [
  { x: 0.01, y: 0.01 },
  { x: 0.0254, y: 0.0254 },
  { x: 0.05, y: 0.0254 },
  { x: 0.1, y: 0.1 },
];
const ALL = LETTERING_CHARACTERS.join('');

describe('stencil lettering', () => {
  it('knows figures, letters both small and large, and the signs that labels need', () => {
    for (const character of '0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz-.%/+ ') {
      expect(() => letter(character, { heightMm: 2 })).not.toThrow();
    }
    expect(letter('mm', { heightMm: 2 })).toEqual(letter('MM', { heightMm: 2 }));
    expect(letter('', { heightMm: 2 })).toEqual([]);
    expect(letter(' ', { heightMm: 2 })).toEqual([]);
  });

  it.each(PITCHES)(
    'at $x x $y mm no character has a loose island, before or after any kerf up to the allowance',
    (pitch) => {
      for (const allowance of [0.08, 0.2]) {
        const heightMm = smallestLetteringMm(allowance);
        for (const character of ALL) {
          const regions = letter(character, { heightMm, pitch, kerfAllowanceMm: allowance });
          for (const kerf of [0, allowance / 2, allowance]) {
            const cut = unionRegions(
              regions.flatMap((region) => (kerf > 0 ? offsetByEllipse(region, kerf, kerf, 1) : region)),
            );
            expect([character, kerf, cut.flatMap(({ islands }) => islands).length]).toEqual([character, kerf, 0]);
            // Separate strokes stay separate, so the bridges between them still stand.
            expect([character, kerf, cut.length]).toEqual([character, kerf, regions.length]);
          }
        }
      }
    },
  );

  it('neighbouring characters keep film between them after the kerf', () => {
    const text = 'MW08%/AV-.+QO';
    const regions = letter(text, { heightMm: 1.6 });
    const cut = unionRegions(regions.flatMap((region) => offsetByEllipse(region, 0.2, 0.2, 1)));
    expect(cut).toHaveLength(regions.length);
  });

  it.each(PITCHES)('at $x x $y mm every corner lies on the dots, and the text in its box', (pitch) => {
    for (const turnDeg of [0, 90] as const) {
      const options = { heightMm: 1.8, pitch, at: [3, 5], turnDeg } as const;
      const regions = letter(ALL, options);
      const points = regions.flatMap(({ outer }) => outer);
      for (const [x, y] of points) {
        expect(Math.abs(x / pitch.x - Math.round(x / pitch.x))).toBeLessThan(1e-6);
        expect(Math.abs(y / pitch.y - Math.round(y / pitch.y))).toBeLessThan(1e-6);
      }
      const box = ringBounds(points);
      const length = letteringLengthMm(ALL, options);
      const [width, height] = turnDeg === 90 ? [1.8, length] : [length, 1.8];
      const slack = 2 * Math.max(pitch.x, pitch.y);
      expect(box.minX).toBeGreaterThan(3 - slack);
      expect(box.minY).toBeGreaterThan(5 - slack);
      expect(box.maxX).toBeLessThan(3 + width + slack);
      expect(box.maxY).toBeLessThan(5 + height + slack);
    }
  });

  it('no two characters look the same', () => {
    const shapes = [...ALL]
      .filter((c) => c !== ' ')
      .map((character) => {
        const regions = letter(character, { heightMm: 2 });
        return JSON.stringify(regions);
      });
    expect(new Set(shapes).size).toBe(shapes.length);
    const area = (c: string): number =>
      letter(c, { heightMm: 2 }).reduce((sum, region) => sum + openingArea(region), 0);
    expect(area('8')).toBeGreaterThan(area('1'));
  });

  it.each([
    '6G',
    '9P',
    'PF',
    'PD',
    'PR',
    'D0',
    'DO',
    '0O',
    'OQ',
    '1I',
    '5S',
    '56',
    '8B',
    '8H',
    '2Z',
    '38',
    '9G',
    'BH',
    'EF',
  ])('of %s one is not taken for the other: after the kerf they differ by a stroke and more', ([p, q]) => {
    for (const [heightMm, kerf] of [
      [2.5, 0.13],
      [smallestLetteringMm(0.2), 0.2],
    ]) {
      const cut = (character: string): Region[] =>
        unionRegions(
          letter(character, { heightMm, kerfAllowanceMm: kerf }).flatMap((r) => offsetByEllipse(r, kerf, kerf, 1)),
        );
      const area = (regions: readonly Region[]): number => regions.reduce((sum, r) => sum + openingArea(r), 0);
      const [a, b] = [cut(p), cut(q)];
      const different = area(subtractRegions(a, b)) + area(subtractRegions(b, a));
      expect([heightMm, different / area(unionRegions([...a, ...b])) > 0.15]).toEqual([heightMm, true]);
    }
  });

  it('the dot that tells 0 from O, D and 8 has film all around, also after the widest kerf', () => {
    for (const kerf of [0.1, 0.2]) {
      const cut = letter('0', { heightMm: smallestLetteringMm(kerf), kerfAllowanceMm: kerf }).flatMap((region) =>
        offsetByEllipse(region, kerf, kerf, 1),
      );
      const [dot, ...halves] = [...cut].sort((p, q) => openingArea(p) - openingArea(q));
      expect(halves).toHaveLength(2);
      const around = ringBounds(dot.outer);
      const near = offsetByEllipse(dot, 0.2, 0.2, 1);
      expect(around.maxX - around.minX).toBeLessThan(0.4);
      expect(unionRegions([...near, ...halves])).toHaveLength(3);
    }
  });

  it.each([
    ['Ω', 2, 'LETTERING_CHARACTER'],
    ['10 µm', 2, 'LETTERING_CHARACTER'],
    ['A', 1, 'LETTERING_TOO_SMALL'],
    ['A', Number.NaN, 'LETTERING_TOO_SMALL'],
  ])('%s at %f mm is refused', (text, heightMm, code) => {
    try {
      letter(text, { heightMm });
    } catch (error) {
      expect(error).toBeInstanceOf(InputError);
      expect((error as InputError).code).toBe(code);
      return;
    }
    throw new Error('it was cut');
  });

  it('says the smallest height for a kerf', () => {
    expect(() => letter('8', { heightMm: 1, kerfAllowanceMm: 0.2 })).toThrow('at least 1.55 mm');
  });
});
