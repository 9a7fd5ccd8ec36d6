import type { PDFRawStream } from 'pdf-lib';
import { mapPoint, mapRing, orient } from '../../geometry/affine.js';
import { openingArea } from '../../geometry/area.js';
import { boxDistance, ringBounds } from '../../geometry/bounds.js';
import { rectangle, solid } from '../../geometry/shapes.js';
import type { Affine, Box, Region, Ring } from '../../geometry/types.js';
import { type Colour, clipRegion, type Paint } from '../paint/drawing.js';
import { groupStrips, joinedLayers, joinedPlace, type PlacedPicture, type SizedPicture } from './join-strips.js';
import { UndecodedStream } from './lex.js';
import { type PictureSamples, pictureSize, readSamples } from './picture-samples.js';
import { type TracedPicture, traceLayers } from './trace-layers.js';

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
  private readonly known = new Map<PDFRawStream, TracedPicture>();
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

  private async traced(picture: PlacedPicture): Promise<TracedPicture | undefined> {
    const known = this.known.get(picture.stream);
    if (known) return known;
    const layers = await this.layers(picture);
    const traced = layers && (await traceLayers(layers, picture.ink !== undefined));
    if (traced) this.known.set(picture.stream, traced);
    return traced;
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
  const { map, clip, ink } = picture;
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
    if (!colour) return [];
    const regions = shapes === 'all' ? [solid(rectangle(0, 0, width, height))] : shapes;
    return seen(regions.map(placed)).map((region) => ({ colour, regions: [region], tag: { drawn: 'traced' } }));
  });
}
