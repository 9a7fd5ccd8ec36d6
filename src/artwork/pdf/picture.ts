import type { PDFRawStream } from 'pdf-lib';
import { mapPoint, mapRing, orient } from '../../geometry/affine.js';
import { openingArea } from '../../geometry/area.js';
import { boxDistance, ringBounds } from '../../geometry/bounds.js';
import { rectangle, solid } from '../../geometry/shapes.js';
import type { Affine, Box, Region, Ring } from '../../geometry/types.js';
import { kept } from '../../kept.js';
import { findLevels, levelTable } from '../image/levels.js';
import { coverageMapOf } from '../image/trace/coverage-map.js';
import type { PixelOpening } from '../image/trace/trace.js';
import { BLACK, type Colour, clipRegion, type Paint } from '../paint/drawing.js';
import { cornersOf } from '../paint/painted-groups.js';
import { groupStrips, joinedLayers, joinedPlace, type PlacedPicture, type SizedPicture } from './join-strips.js';
import { UndecodedStream } from './lex.js';
import { isEven, type PictureSamples, pictureSize, readSamples } from './picture-samples.js';

/** Nothing that is cut is smaller. */
const LEAST_MM2 = 1e-9;
/** Pages whose pictures have more pixels or corners than this are rendered. */
const MAX_PIXELS = 400_000_000;
const MAX_POINTS = 4_000_000;

/** The paints of a page with its pictures traced between them. */
export interface TracedPictures {
  readonly paints: readonly Paint[];
  /** Coarsest of the pictures, dots per inch; undefined when all of them are of one colour. */
  readonly dpi: number | undefined;
  /** How many pictures are of one colour because of what they are, or because nobody could decode them. */
  readonly blank: number;
  /** How many lack their end. */
  readonly cutOff: number;
}

/**
 * Traces a page's pictures from their own samples, which is finer than any rendering.
 *
 * @returns undefined when any of them is beyond this reader, or lies see-through on other things
 * @throws {InputError} PDF_BROKEN when data are missing, IMAGE_TOO_BUSY for noise
 */
export async function tracePictures(
  pictures: readonly PlacedPicture[],
  paints: readonly Paint[],
): Promise<TracedPictures | undefined> {
  const sized = pictures.flatMap((picture) => {
    const size = pictureSize(picture.stream.dict);
    return size ? [{ ...picture, ...size }] : [];
  });
  if (sized.length < pictures.length) return undefined;
  const reader = new Reader();
  const all: Paint[] = [];
  let dpi = Infinity;
  const doubts = { blank: 0, 'cut off': 0 };
  let from = 0;
  let points = 0;
  for (const group of groupStrips(sized)) {
    const shown = await reader.read(group);
    if (!shown) return undefined;
    for (; from < group[0].at; from += 1) all.push(paints[from]);
    for (const { traced, place } of shown) {
      points += traced.points;
      if (points > MAX_POINTS || (traced.needsBareGround && !isBare(place, all))) return undefined;
      all.push(...paintsOf(traced, place));
      if (!traced.isPlain) dpi = Math.min(dpi, dpiOf(traced, place.map));
      if (traced.doubt) doubts[traced.doubt] += 1;
    }
  }
  for (; from < paints.length; from += 1) all.push(paints[from]);
  return { paints: all, dpi: Number.isFinite(dpi) ? dpi : undefined, blank: doubts.blank, cutOff: doubts['cut off'] };
}

/** A picture's shapes and where they lie. */
interface Shown {
  readonly traced: TracedPicture;
  readonly place: PlacedPicture;
}

/** Reads pictures, each once however often it is shown. */
class Reader {
  private readonly known = new Map<PDFRawStream, Promise<TracedPicture | undefined>>();
  private pixels = 0;

  /** The strips of a group as one picture, or one by one where they have masks; undefined when that is too much. */
  async read(group: readonly SizedPicture[]): Promise<Shown[] | undefined> {
    if (group.length > 1) {
      const strips: PictureSamples[] = [];
      for (const strip of group) {
        const layers = await this.layers(strip);
        if (!layers) return undefined;
        strips.push(layers);
      }
      const whole = joinedLayers(strips);
      if (whole) return [{ traced: await traceLayers(whole, group[0].ink !== undefined), place: joinedPlace(group) }];
    }
    const shown: Shown[] = [];
    for (const place of group) {
      const traced = await this.traced(place);
      if (!traced) return undefined;
      shown.push({ traced, place });
    }
    return shown;
  }

  private traced(picture: PlacedPicture): Promise<TracedPicture | undefined> {
    return kept(this.known, picture.stream, async () => {
      const layers = await this.layers(picture);
      return layers && traceLayers(layers, picture.ink !== undefined);
    });
  }

  private async layers({ stream, resources }: PlacedPicture): Promise<PictureSamples | undefined> {
    const layers = await readSamples(stream, resources).catch((error: unknown) => {
      if (error instanceof UndecodedStream) return undefined;
      throw error;
    });
    this.pixels += layers?.grey.length ?? 0;
    return this.pixels > MAX_PIXELS ? undefined : layers;
  }
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
    return seen(shapes.map(placed)).map((region) => ({ colour, regions: [region], tag: { drawn: 'traced' } }));
  });
}

/** What a picture paints with one colour, pixels, y down. */
interface Layer {
  /** The page's own colour when left out: of a stencil. */
  readonly colour?: Colour;
  readonly shapes: readonly PixelOpening[];
}

/** A picture as shapes, in the order of painting. */
interface TracedPicture {
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
async function traceLayers(picture: PictureSamples, stencil: boolean): Promise<TracedPicture> {
  const { width, height, doubt } = picture;
  const sheet = [solid(rectangle(0, 0, width, height))];
  const layers = await layersOf(picture, stencil, sheet);
  return {
    width,
    height,
    layers,
    points: layers.flatMap(({ shapes }) => shapes).reduce((sum, shape) => sum + cornersOf(shape), 0),
    isPlain: layers.every(({ shapes }) => shapes === sheet),
    needsBareGround: isSoft(picture.alpha) && !isEven(picture.grey),
    doubt,
  };
}

/** @param sheet - the shapes of what covers all of the picture */
async function layersOf(picture: PictureSamples, stencil: boolean, sheet: Layer['shapes']): Promise<Layer[]> {
  const { grey, alpha } = picture;
  const dark = async (values: Uint8Array): Promise<Layer['shapes']> => shapesOf({ ...picture, grey: values }, sheet);
  if (stencil) return [{ shapes: await dark(grey) }];
  if (!alpha) {
    if (isEven(grey)) return [{ colour: ofGrey(grey[0]), shapes: sheet }];
    const shapes = await dark(grey);
    return [
      { colour: WHITE, shapes: sheet },
      { colour: BLACK, shapes },
    ];
  }
  const covered = alpha.map((value) => 255 - value);
  if (isEven(grey)) {
    const most = alpha.reduce((value, each) => Math.max(value, each), 0);
    const shapes = !isEven(alpha) ? await dark(covered) : most > 0 ? sheet : [];
    return [{ colour: { ...ofGrey(grey[0]), a: most / 255 }, shapes }];
  }
  const below = isSoft(alpha) ? sheet : await dark(covered);
  const onWhite = grey.map((value, i) => Math.round((value * alpha[i] + 255 * (255 - alpha[i])) / 255));
  return [
    { colour: WHITE, shapes: below },
    { colour: BLACK, shapes: await dark(onWhite) },
  ];
}

const ofGrey = (value: number): Colour => ({ r: value / 255, g: value / 255, b: value / 255, a: 1 });
const isSoft = (alpha: Uint8Array | undefined): boolean => alpha?.some((value) => value > 0 && value < 255) ?? false;

/** What is dark in a picture, between the picture's own levels. */
async function shapesOf({ width, height, grey }: PictureSamples, sheet: Layer['shapes']): Promise<Layer['shapes']> {
  const map = coverageMapOf(width, height, grey);
  const levels = findLevels(map.counts);
  if (!levels) return grey[0] < 128 ? sheet : [];
  map.replace(levelTable(levels));
  map.invert();
  const { traceMap } = await import('../image/trace/trace.js');
  return traceMap(map);
}
