import type { PDFDict, PDFRawStream } from 'pdf-lib';
import { mapPoint, mapRing, orient } from '../../geometry/affine.js';
import { openingArea } from '../../geometry/area.js';
import { ringBounds } from '../../geometry/bounds.js';
import { rectangle, solid } from '../../geometry/shapes.js';
import type { Affine, Box, Region, Ring } from '../../geometry/types.js';
import { boxDistance } from '../../geometry/walls.js';
import { type Clip, type Colour, clipRegion, type Paint } from '../vector/drawing.js';
import type { Objects } from './objects.js';
import { pictureLayers } from './picture-layers.js';
import { PictureRenderer } from './picture-renderer.js';
import { type TracedPicture, traceLayers } from './trace-layers.js';

/** Nothing that is cut is smaller. */
const LEAST_MM2 = 1e-9;
/** Pages whose pictures have more pixels or corners than this are rendered. */
const MAX_PIXELS = 400_000_000;
const MAX_POINTS = 4_000_000;

/** A picture where a page shows it. */
export interface PlacedPicture {
  readonly stream: PDFRawStream;
  readonly resources: PDFDict | undefined;
  /** From the unit square, y up, to mm. */
  readonly map: Affine;
  readonly clip: Clip | undefined;
  /** Of a stencil: what it paints with. */
  readonly ink: Colour | undefined;
  /** Its light parts leave what lies beneath as it is. */
  readonly onlyDarkens: boolean;
  /** How many paints come before it. */
  readonly at: number;
}

/** The paints of a page with its pictures traced between them. */
export interface TracedPictures {
  readonly paints: readonly Paint[];
  /** Coarsest of the pictures, dots per inch; undefined when all of them are of one colour. */
  readonly dpi: number | undefined;
  /** How many pictures are of one colour because of what they are, or because nobody could decode them. */
  readonly blank: number;
}

/**
 * Traces a page's pictures from their own samples, which is finer than any rendering.
 *
 * @returns undefined when any of them is beyond this reader, or lies see-through on other things
 * @throws {InputError} PDF_BROKEN when data are missing, IMAGE_TOO_BUSY for noise
 */
export async function tracePictures(
  objects: Objects,
  pictures: readonly PlacedPicture[],
  paints: readonly Paint[],
): Promise<TracedPictures | undefined> {
  const renderer = new PictureRenderer(objects);
  const known = new Map<PDFRawStream, TracedPicture>();
  const all: Paint[] = [];
  let dpi = Infinity;
  let from = 0;
  let pixels = 0;
  let points = 0;
  try {
    for (const picture of pictures) {
      let traced = known.get(picture.stream);
      if (!traced) {
        const layers = await pictureLayers(objects, renderer, picture.stream, picture.resources);
        pixels += layers ? layers.grey.length : Infinity;
        if (!layers || pixels > MAX_PIXELS) return undefined;
        traced = await traceLayers(layers, picture.ink !== undefined);
        known.set(picture.stream, traced);
      }
      for (; from < picture.at; from += 1) all.push(paints[from]);
      points += traced.points;
      if (points > MAX_POINTS || (traced.needsBareGround && !isBare(picture, all))) return undefined;
      all.push(...paintsOf(traced, picture));
      if (!traced.isPlain) dpi = Math.min(dpi, dpiOf(traced, picture.map));
    }
  } finally {
    renderer.close();
  }
  for (; from < paints.length; from += 1) all.push(paints[from]);
  return {
    paints: all,
    dpi: Number.isFinite(dpi) ? dpi : undefined,
    blank: [...known.values()].filter(({ isBlank }) => isBlank).length,
  };
}

function dpiOf({ width, height }: TracedPicture, { a, b, c, d }: Affine): number {
  return Math.min((25.4 * width) / Math.hypot(a, c), (25.4 * height) / Math.hypot(b, d));
}

const isWhite = ({ r, g, b }: Colour): boolean => Math.min(r, g, b) > 0.99;

/** Whether nothing but white was painted where a picture lies. */
function isBare({ map }: PlacedPicture, paints: readonly Paint[]): boolean {
  const box: Box = ringBounds(mapRing(map, rectangle(0, 0, 1, 1)));
  return paints.every(
    ({ colour, regions }) => isWhite(colour) || regions.every(({ outer }) => boxDistance(ringBounds(outer), box) > 0),
  );
}

function paintsOf({ width, height, layers }: TracedPicture, picture: PlacedPicture): Paint[] {
  const { map, clip, ink, onlyDarkens } = picture;
  const place = (ring: Ring): Ring => ring.map(([x, y]) => mapPoint(map, [x / width, 1 - y / height]));
  const placed = ({ outer, islands }: Region): Region =>
    orient({ outer: place(outer), islands: islands.map((ring) => place(ring)) });
  // A picture squeezed to a line shows nothing.
  const seen = (regions: readonly Region[]): Region[] =>
    (clip ? regions.flatMap((region) => clipRegion(region, clip)) : [...regions]).filter(
      (region) => openingArea(region) > LEAST_MM2,
    );
  return layers.flatMap(({ colour: own, shapes }): Paint[] => {
    const colour = own ?? ink;
    if (!colour || (onlyDarkens && Math.min(colour.r, colour.g, colour.b) > 0.5)) return [];
    const regions = shapes === 'all' ? [solid(rectangle(0, 0, width, height))] : shapes;
    return seen(regions.map(placed)).map((region) => ({ colour, regions: [region], tag: { drawn: 'traced' } }));
  });
}
