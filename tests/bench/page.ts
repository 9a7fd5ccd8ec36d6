import sharp from 'sharp';
import { ringBounds } from '../../src/geometry/bounds.js';
import type { Opening, Ring } from '../../src/geometry/types.js';
import { coverageOf } from '../artwork/image/trace/raster.js';

/** An 8-bit grey PNG of openings without islands, each pixel as dark as it is covered: what good drawing programs make. */
export async function greyPage(openings: readonly Opening[], width: number, height: number, pitchMm: number) {
  const data = new Uint8Array(width * height).fill(255);
  for (const { outer } of openings) {
    const ring: Ring = outer.map(([x, y]): [number, number] => [x / pitchMm, height - y / pitchMm]);
    const box = ringBounds(ring);
    const [x0, y0] = [Math.floor(box.minX) - 1, Math.floor(box.minY) - 1];
    const [w, h] = [Math.ceil(box.maxX) + 1 - x0, Math.ceil(box.maxY) + 1 - y0];
    const local = coverageOf([ring.map(([x, y]): [number, number] => [x - x0, y - y0])], w, h);
    for (let i = 0; i < local.length; i += 1) {
      if (local[i] !== 0) data[(y0 + Math.floor(i / w)) * width + x0 + (i % w)] -= Math.round(255 * Math.abs(local[i]));
    }
  }
  return sharp(data, { raw: { width, height, channels: 1 }, limitInputPixels: false })
    .toColourspace('b-w')
    .withDensity(25.4 / pitchMm)
    .png()
    .toBuffer();
}
