import { findLevels, levelTable } from '../image/levels.js';
import { coverageMapOf } from '../image/trace/coverage-map.js';
import type { PixelOpening } from '../image/trace/trace.js';
import { BLACK, type Colour } from '../paint/drawing.js';
import { isEven, type PictureSamples } from './picture-samples.js';

/** What a picture paints with one colour, pixels, y down. */
export interface Layer {
  /** The page's own colour when left out: of a stencil. */
  readonly colour?: Colour;
  readonly shapes: 'all' | readonly PixelOpening[];
}

/** A picture as shapes, in the order of painting. */
export interface TracedPicture {
  readonly width: number;
  readonly height: number;
  readonly layers: readonly Layer[];
  /** Corners of all shapes. */
  readonly points: number;
  /** Of one colour all over. */
  readonly isPlain: boolean;
  /** Right only where nothing lies beneath. */
  readonly needsBareGround: boolean;
  readonly doubt: PictureSamples['doubt'];
}

const WHITE: Colour = { r: 1, g: 1, b: 1, a: 1 };

/**
 * Traces a picture: a white sheet with dark shapes on it; of a stencil, or a picture of one colour with a mask, the
 * shapes alone.
 *
 * @param stencil - paints with the page's colour, and nothing where it is light
 * @throws {InputError} IMAGE_TOO_BUSY for noise
 */
export async function traceLayers(picture: PictureSamples, stencil: boolean): Promise<TracedPicture> {
  const layers = await layersOf(picture, stencil);
  const { width, height, doubt } = picture;
  let points = 0;
  for (const { shapes } of layers) {
    if (shapes === 'all') points += 4;
    else for (const { outer, islands } of shapes) for (const ring of [outer, ...islands]) points += ring.length;
  }
  return {
    width,
    height,
    layers,
    points,
    isPlain: layers.every(({ shapes }) => shapes === 'all'),
    needsBareGround: isSoft(picture.alpha) && !isEven(picture.grey),
    doubt,
  };
}

async function layersOf(picture: PictureSamples, stencil: boolean): Promise<Layer[]> {
  const { grey, alpha } = picture;
  const dark = async (values: Uint8Array): Promise<Layer['shapes']> => shapesOf({ ...picture, grey: values });
  if (stencil) return [{ shapes: await dark(grey) }];
  if (!alpha) {
    if (isEven(grey)) return [{ colour: ofGrey(grey[0]), shapes: 'all' }];
    const shapes = await dark(grey);
    return [
      { colour: WHITE, shapes: 'all' },
      { colour: BLACK, shapes },
    ];
  }
  const covered = alpha.map((value) => 255 - value);
  if (isEven(grey)) {
    const most = alpha.reduce((value, each) => Math.max(value, each), 0);
    const shapes = !isEven(alpha) ? await dark(covered) : most > 0 ? 'all' : [];
    return [{ colour: { ...ofGrey(grey[0]), a: most / 255 }, shapes }];
  }
  const sheet = isSoft(alpha) ? 'all' : await dark(covered);
  const onWhite = grey.map((value, i) => Math.round((value * alpha[i] + 255 * (255 - alpha[i])) / 255));
  return [
    { colour: WHITE, shapes: sheet },
    { colour: BLACK, shapes: await dark(onWhite) },
  ];
}

const ofGrey = (value: number): Colour => ({ r: value / 255, g: value / 255, b: value / 255, a: 1 });
const isSoft = (alpha: Uint8Array | undefined): boolean => alpha?.some((value) => value > 0 && value < 255) ?? false;

/** What is dark in a picture, between the picture's own levels. */
async function shapesOf({ width, height, grey }: PictureSamples): Promise<Layer['shapes']> {
  const counts = new Float64Array(256);
  for (const value of grey) counts[value] += 1;
  const levels = findLevels(counts);
  if (!levels) return grey[0] < 128 ? 'all' : [];
  const open = levelTable(levels).map((light) => 255 - light);
  const { traceMap } = await import('../image/trace/trace.js');
  return traceMap(coverageMapOf(width, height, grey, open));
}
