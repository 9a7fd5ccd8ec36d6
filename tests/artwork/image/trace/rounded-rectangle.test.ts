import { describe, expect, it } from 'vitest';
import { traceGrey } from '../../../../src/artwork/image/trace/trace.js';
import { openingArea } from '../../../../src/geometry/area.js';
import { ringBounds } from '../../../../src/geometry/bounds.js';
import { solid } from '../../../../src/geometry/shapes.js';
import type { Box, Ring } from '../../../../src/geometry/types.js';
import { rounded } from '../../../export/boards.js';
import { seeded } from '../../../virtual-laser/random.js';
import { bitImage, type TestImage } from './raster.js';

/** Round corners as a share of half the shorter side. */
const KINDS = [
  ['rounded rectangles', 0.2, 0.9],
  ['obrounds', 1, 1],
] as const;

/** Box of all open pixels, y up as traced. */
function rawBox({ width, height, data }: TestImage): Box {
  const box = { minX: Infinity, minY: Infinity, maxX: -Infinity, maxY: -Infinity };
  data.forEach((value, i) => {
    if (value === 0) return;
    const [x, y] = [i % width, height - 1 - Math.floor(i / width)];
    box.minX = Math.min(box.minX, x);
    box.maxX = Math.max(box.maxX, x + 1);
    box.minY = Math.min(box.minY, y);
    box.maxY = Math.max(box.maxY, y + 1);
  });
  return box;
}

/** Pads of 0.25 to 1.45 mm at any phase, against their true size and the pixels that they cover, all in pixels. */
function errorsOf(dpi: number, least: number, most: number, isCircle = false) {
  const random = seeded(dpi + 100 * least);
  const side = (): number => ((0.25 + 1.2 * random()) * dpi) / 25.4;
  return Array.from({ length: 120 }, () => {
    const wide = side();
    const tall = isCircle ? wide : side();
    const size = Math.ceil(Math.max(wide, tall) + 12);
    const [cx, cy] = [size / 2 + random(), size / 2 + random()];
    const radius = (Math.min(wide, tall) / 2) * (least + (most - least) * random());
    const ring: Ring = rounded(wide, tall, radius, 24).map(([x, y]): [number, number] => [x + cx, y + cy]);
    const image = bitImage([ring], size, size);
    const openings = traceGrey(image, { x: 1, y: 1 });
    expect(openings).toHaveLength(1);
    const { minX, minY, maxX, maxY } = ringBounds(openings[0].outer);
    const raw = rawBox(image);
    return {
      sizes: [maxX - minX - wide, maxY - minY - tall],
      beyond: Math.max(raw.minX - minX, raw.minY - minY, maxX - raw.maxX, maxY - raw.maxY),
      width: (openingArea(openings[0]) - openingArea(solid(ring))) / (wide + tall),
    };
  });
}

const mean = (values: readonly number[]): number => values.reduce((sum, v) => sum + v, 0) / values.length;
const rms = (values: readonly number[]): number => Math.sqrt(mean(values.map((v) => v * v)));

describe('pads with round corners in a 1-bit image', () => {
  // Fitted only by sides and arcs, rounded ones came out 0.29 px too long on average, 0.55 px rms, and obrounds 0.1 and 0.44.
  it.each(KINDS.flatMap(([name, least, most]) => [600, 1200].map((dpi) => [name, dpi, least, most] as const)))(
    '%s at %d dpi come out as large as they are',
    (_, dpi, least, most) => {
      const all = errorsOf(dpi, least, most);
      const sizes = all.flatMap((one) => one.sizes);
      expect(Math.abs(mean(sizes))).toBeLessThan(0.2);
      expect(rms(sizes)).toBeLessThan(0.45);
      expect(Math.max(...sizes.map(Math.abs))).toBeLessThan(1.7);
      expect(Math.abs(mean(all.map(({ width }) => width)))).toBeLessThan(0.12);
      // A wall lies between the last pixel that is open and the next one: half a pixel beyond the pixels' edges, and a
      // little for corners.
      expect(Math.max(...all.map(({ beyond }) => beyond))).toBeLessThan(0.65);
    },
  );

  it.each([600, 1200])('circles at %d dpi come out as circles', (dpi) => {
    const all = errorsOf(dpi, 1, 1, true);
    expect(rms(all.flatMap((one) => one.sizes))).toBeLessThan(0.13);
  });
});
