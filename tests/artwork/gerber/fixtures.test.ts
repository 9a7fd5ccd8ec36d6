import { readFileSync } from 'node:fs';
import { describe, expect, it } from 'vitest';
import { readGerber } from '../../../src/artwork/gerber/read-gerber.js';
import { openingArea } from '../../../src/geometry/area.js';
import { ringBounds } from '../../../src/geometry/bounds.js';
import { independentReading, PER_MM } from './independent-reader.js';
import { totalArea } from './write-layer.js';

/**
 * Invented layers in the dialects of many years, one file each under fixtures/. What they show was worked out by hand
 * from the Ucamco Gerber layer format specification (and its chapter on deprecated elements), in millimetres: centre and
 * size of the box, area, islands; warnings by code. `independent`: an independent reader is right about it too.
 */
interface Expected {
  readonly file: string;
  readonly openings: readonly {
    readonly x: number;
    readonly y: number;
    readonly w: number;
    readonly h: number;
    readonly area: number;
    readonly islands: number;
  }[];
  readonly warnings: readonly string[];
  readonly independent: boolean;
}

const at = (name: string): URL => new URL(`fixtures/${name}`, import.meta.url);
const ALL = JSON.parse(readFileSync(at('expected.json'), 'utf8')) as readonly Expected[];

describe('layers in dialects', () => {
  it.each(ALL)('$file', async ({ file, openings, warnings }) => {
    const read = await readGerber(readFileSync(at(file)), { name: file });
    expect(read.warnings.map(({ code }) => code)).toEqual(warnings);
    expect(read.openings).toHaveLength(openings.length);
    openings.forEach((wanted, i) => {
      const opening = read.openings[i];
      const { minX, minY, maxX, maxY } = ringBounds(opening.outer);
      const found = [(minX + maxX) / 2, (minY + maxY) / 2, maxX - minX, maxY - minY];
      [wanted.x, wanted.y, wanted.w, wanted.h].forEach((value, k) => {
        // A disc is a polygon of the disc's area; its box is off by less than 0.4 um.
        expect(Math.abs(found[k] - value), `${file} ${i + 1} ${'xywh'[k]}`).toBeLessThan(4e-4);
      });
      expect(Math.abs(openingArea(opening) - wanted.area), `${file} ${i + 1} area`).toBeLessThan(2e-4 * wanted.area);
      expect(opening.islands).toHaveLength(wanted.islands);
    });
  });

  it.each(ALL.filter(({ independent }) => independent))('$file, by an independent reader', async ({ file }) => {
    const bytes = readFileSync(at(file));
    const ours = await readGerber(bytes, {});
    const theirs = await independentReading(bytes.toString('latin1'));
    expect(Math.abs(totalArea(ours) / theirs.area - 1)).toBeLessThan(0.005);
    const { minX, minY, maxX, maxY } = ours.bounds as NonNullable<typeof ours.bounds>;
    [minX, minY, maxX, maxY].forEach((value, i) => {
      expect(Math.abs(value - theirs.box[i])).toBeLessThan(2.6 / PER_MM);
    });
  });
});
