import type { PDFDict, PDFObject } from 'pdf-lib';
import { mapPoint, orient } from '../../geometry/affine.js';
import { openingArea } from '../../geometry/area.js';
import { rectangle, solid } from '../../geometry/shapes.js';
import type { Affine, Region, Ring } from '../../geometry/types.js';
import { findLevels, levelTable } from '../image/levels.js';
import { coverageBuilder } from '../trace/coverage-builder.js';
import type { CoverageMap } from '../trace/coverage-map.js';
import { BLACK, type Clip, clipRegion, type Paint } from '../vector/drawing.js';
import type { Objects } from './objects.js';
import { type PictureSamples, pictureSamples } from './picture-samples.js';

/** Nothing that is cut is smaller. */
const LEAST_MM2 = 1e-9;

/** A picture where a page shows it. */
export interface PlacedPicture {
  readonly stream: PDFObject;
  readonly resources: PDFDict | undefined;
  /** From the unit square, y up, to mm. */
  readonly map: Affine;
  readonly clip: Clip | undefined;
  /** How many paints come before it. */
  readonly at: number;
}

/** The paints of a page with its pictures traced between them. */
export interface TracedPictures {
  readonly paints: readonly Paint[];
  /** Coarsest of the pictures, dots per inch. */
  readonly dpi: number;
}

/**
 * Traces a page's pictures from their own samples, which is finer than any rendering: each is a white sheet with dark
 * shapes on it.
 *
 * @returns undefined when any of them is beyond this reader
 * @throws {InputError} IMAGE_TOO_BUSY for noise
 */
export async function tracePictures(
  objects: Objects,
  pictures: readonly PlacedPicture[],
  paints: readonly Paint[],
): Promise<TracedPictures | undefined> {
  const all: Paint[] = [];
  let dpi = Infinity;
  let from = 0;
  for (const picture of pictures) {
    const samples = await pictureSamples(objects, picture.stream, picture.resources);
    if (!samples) return undefined;
    for (; from < picture.at; from += 1) all.push(paints[from]);
    for (const paint of await paintsOf(samples, picture)) all.push(paint);
    const { a, c, b, d } = picture.map;
    dpi = Math.min(dpi, (25.4 * samples.width) / Math.hypot(a, c), (25.4 * samples.height) / Math.hypot(b, d));
  }
  for (; from < paints.length; from += 1) all.push(paints[from]);
  return { paints: all, dpi };
}

async function paintsOf(samples: PictureSamples, { map, clip }: PlacedPicture): Promise<Paint[]> {
  const { width, height } = samples;
  const place = (ring: Ring): Ring => ring.map(([x, y]) => mapPoint(map, [x / width, 1 - y / height]));
  const placed = ({ outer, islands }: Region): Region =>
    orient({ outer: place(outer), islands: islands.map((ring) => place(ring)) });
  // A picture squeezed to a line shows nothing.
  const seen = (regions: readonly Region[]): Region[] =>
    (clip ? regions.flatMap((region) => clipRegion(region, clip)) : [...regions]).filter(
      (region) => openingArea(region) > LEAST_MM2,
    );
  const sheet = seen([placed(solid(rectangle(0, 0, width, height)))]);
  const coverage = coverageOf(samples);
  if (coverage === 'dark') return [{ colour: BLACK, regions: sheet, tag: { drawn: 'traced' } }];
  const white: Paint = { colour: { r: 1, g: 1, b: 1, a: 1 }, regions: sheet, tag: { drawn: 'traced' } };
  if (coverage === 'light') return [white];
  const { traceMap } = await import('../trace/trace.js');
  const shapes = traceMap(coverage).map(placed);
  return [
    white,
    ...seen(shapes).map((region): Paint => ({ colour: BLACK, regions: [region], tag: { drawn: 'traced' } })),
  ];
}

/** How dark each pixel is, between the picture's own levels. */
function coverageOf({ width, height, grey, isBits }: PictureSamples): CoverageMap | 'dark' | 'light' {
  const counts = new Float64Array(256);
  for (const value of grey) counts[value] += 1;
  const levels = findLevels(counts);
  if (!levels) return grey[0] < 128 ? 'dark' : 'light';
  const open = levelTable(levels).map((light) => 255 - light);
  const builder = coverageBuilder(width, height, !isBits);
  const row = new Uint8Array(Math.ceil(width / 32) * 32);
  const bits = new Uint8Array(Math.ceil(width / 8));
  for (let y = 0; y < height; y += 1) {
    const at = y * width;
    if (isBits) {
      bits.fill(0);
      for (let x = 0; x < width; x += 1) if (open[grey[at + x]] >= 128) bits[x >> 3] |= 0x80 >> (x & 7);
      builder.addBitRow(bits);
    } else {
      for (let x = 0; x < width; x += 1) row[x] = open[grey[at + x]];
      builder.addGreyRow(row);
    }
  }
  return builder.finish();
}
