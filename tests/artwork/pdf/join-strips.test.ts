import { deflateSync } from 'node:zlib';
import { PDFName } from 'pdf-lib';
import { describe, expect, it } from 'vitest';
import { readPdf } from '../../../src/artwork/pdf/read-pdf.js';
import { openingArea } from '../../../src/geometry/area.js';
import type { Opening } from '../../../src/geometry/types.js';
import { coverageOf } from '../image/trace/raster.js';
import { makePdf } from './make-pdf.js';

const SIDE = 240;
/** Of a pixel, mm. */
const PX = 0.04;
const disc = Array.from({ length: 720 }, (_, i): [number, number] => [
  80 + 30.4 * Math.cos((i * Math.PI) / 360),
  90 + 30.4 * Math.sin((i * Math.PI) / 360),
]);
const slanted: [number, number][] = [
  [130, 60],
  [210, 80],
  [203, 109],
  [123, 89],
];
const coverage = coverageOf([disc, slanted], SIDE, SIDE);
const grey = Uint8Array.from(coverage, (v) => Math.round(255 * (1 - v)));

interface Cut {
  readonly rows: number;
  readonly stencil?: boolean;
  readonly upward?: boolean;
  readonly clips?: boolean;
  readonly gapMm?: number;
  /** Colours of the strips in turn. */
  readonly colours?: readonly string[];
  readonly turned?: boolean;
}

/** A page with the picture cut into strips of so many rows, the lower left corner at (10, 10) mm. */
function inStrips(cut: Cut): Promise<Uint8Array> {
  const { rows, stencil = false, gapMm = 0, colours = ['0 g'] } = cut;
  const count = SIDE / rows;
  const order = Array.from({ length: count }, (_, k) => (cut.upward ? count - 1 - k : k));
  const content = order.map((k) => {
    const y = 10 + (SIDE - (k + 1) * rows) * PX - k * gapMm;
    const [w, h] = [SIDE * PX, rows * PX];
    const clip = cut.clips ? `10 ${y} ${w} ${h} re W n ` : '';
    return `q ${clip}${colours[k % colours.length]} ${w} 0 0 ${h} 10 ${y} cm /I${k} Do Q`;
  });
  return makePdf(`${cut.turned ? '0.8 0.6 -0.6 0.8 20 -5 cm ' : ''}${content.join('\n')}`, (page, { context }) => {
    for (let k = 0; k < count; k += 1) {
      const part = grey.subarray(k * rows * SIDE, (k + 1) * rows * SIDE);
      const bits = new Uint8Array((SIDE * rows) / 8);
      part.forEach((v, i) => {
        if (v >= 128) bits[i >> 3] |= 0x80 >> (i & 7);
      });
      const kind = stencil ? { ImageMask: true } : { ColorSpace: 'DeviceGray', BitsPerComponent: 8 };
      const dict = { Type: 'XObject', Subtype: 'Image', Width: SIDE, Height: rows, Filter: 'FlateDecode', ...kind };
      const stream = context.stream(deflateSync(stencil ? bits : part), dict);
      page.node.setXObject(PDFName.of(`I${k}`), context.register(stream));
    }
  });
}

const read = async (cut: Cut): Promise<readonly Opening[]> => (await readPdf(await inStrips(cut), {})).openings;
const corners = (openings: readonly Opening[]): string[] =>
  openings.map(({ outer }) => outer.map((point) => point.map((v) => v.toFixed(6)).join(' ')).join(', '));

describe('a picture cut into strips', () => {
  it.each<[string, Cut]>([
    ['of grey', { rows: 16 }],
    ['from the bottom up', { rows: 24, upward: true }],
    ['each within a clip of its own', { rows: 24, clips: true }],
    ['of a stencil', { rows: 8, stencil: true }],
    ['on a turned page', { rows: 24, stencil: true, turned: true }],
    ['set to the nearest micrometre', { rows: 60, gapMm: 0.001 }],
  ])('%s is traced as the whole is', async (_, cut) => {
    const parts = await read(cut);
    const whole = await read({ stencil: cut.stencil, turned: cut.turned, rows: SIDE });
    if (!cut.gapMm) expect(corners(parts)).toEqual(corners(whole));
    expect(parts).toHaveLength(2);
    parts.forEach((opening, i) => {
      expect(Math.abs(openingArea(opening) / openingArea(whole[i]) - 1)).toBeLessThan(1e-3);
    });
  });

  it('stays in parts where they lie apart, or differ in colour', async () => {
    const apart = await read({ rows: 48, gapMm: 0.03 });
    expect(apart.length).toBeGreaterThan(2);
    // Of rows 96 to 144 nothing shows: white on white.
    const coloured = await read({ rows: 48, stencil: true, colours: ['0 g', '0 g', '1 g', '0 g', '0 g'] });
    const lowest = Math.min(...coloured.flatMap(({ outer }) => outer.map(([, y]) => y)));
    expect(lowest).toBeCloseTo(10 + (SIDE - 96) * PX, 2);
  });
});
