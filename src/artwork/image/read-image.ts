import { InputError, inFile, type Warning, warningsIf } from '../../errors.js';
import { openingArea, ringArea, ringPerimeter } from '../../geometry/area.js';
import { boundsOf, regionBounds, ringBounds } from '../../geometry/bounds.js';
import { oncePerShape } from '../../geometry/copies.js';
import type { PerAxis, Ring } from '../../geometry/types.js';
import type { Artwork, ArtworkFormat, ReadOptions } from '../types.js';
import { openBmp } from './decode/bmp.js';
import { openPlainPng, parsePng } from './decode/png.js';
import { hasChecksum } from './decode/tiff.js';
import { chooseOpenings, edgeBlurPx, FAINT, nothingDrawn, readCoverage, unclear } from './read-coverage.js';
import { pixelSize, requireSize } from './size.js';
import { listed, type PixelSource } from './source.js';
import { type PixelOpening, toMillimetres, traceMap } from './trace/trace.js';

export type ImageFormat = Extract<ArtworkFormat, 'png' | 'bmp' | 'tiff' | 'jpeg' | 'webp' | 'gif'>;
/** Standard deviation of what is no clean smoothing any more, pixels. */
const BLURRED_PX = 0.5;
/** An opening narrower than so many of them loses more than a hundredth or two of its area at its corners. */
const NARROW_FOR_BLUR = 12;
/** Less is a picture in black and white alone, pixels. */
const NO_SHADES_PX = 0.05;
/** Programs smooth edges in quarters of a pixel or finer; without shades, in whole pixels. */
const STEP_PX = 0.27;
const STEP_WITHOUT_SHADES_PX = 1.05;
/** There an opening narrower than so many of them may be off by more than a quarter. */
const NARROW_IN_STEPS = 4;
/** Nobody draws an opening or an island of less than two pixels; dirt and damaged files do. */
const SPECK_PX2 = 2;
/** An opening this near to the border is cut off by it, pixels. */
const AT_BORDER_PX = 0.02;

/**
 * Reads a picture of a paste layer: traced once at sub-pixel accuracy into openings.
 *
 * @param bytes - the whole file
 * @param format - what it is, by its content
 * @param options - resolution, width or known distance where the file states none; polarity; specks to drop
 * @returns openings in mm, y up, from the canvas's lower left corner; top to bottom, left to right within a row
 * @throws {InputError} SIZE_UNKNOWN, SIZE_INVALID, SIZE_IMPOSSIBLE, KNOWN_DISTANCE, POLARITY_UNCLEAR, NOTHING_DRAWN, IMAGE_DAMAGED,
 * IMAGE_UNSUPPORTED, IMAGE_TOO_LARGE, IMAGE_TOO_BUSY
 */
export async function readImage(bytes: Uint8Array, format: ImageFormat, options: ReadOptions): Promise<Artwork> {
  try {
    return await read(bytes, format, options);
  } catch (error) {
    throw error instanceof InputError && options.name !== undefined ? inFile(error, options.name) : error;
  }
}

async function read(bytes: Uint8Array, format: ImageFormat, options: ReadOptions): Promise<Artwork> {
  const { name: file, polarity = 'auto' } = options;
  const warnings: Warning[] = [];
  const source = await openImage(bytes, format, file);
  requireSize(source, options);
  const { map, levels, grey, byOpacity, field } = await readCoverage(source, file);
  const [kind, apart] = [format.toUpperCase(), levels.light - levels.dark];
  warnings.push(
    ...warningsIf(file, [
      [
        (source.pictures ?? 1) > 1,
        'FIRST_PICTURE',
        `the file holds ${source.pictures} pictures; the first was read.`,
        'Save the one that is wanted as a file of its own if it is another.',
      ],
      ...[...(source.complaints ?? [])].map(
        (complaint) =>
          [
            true,
            'IMAGE_DOUBTFUL',
            `the ${kind} file is not as it should be (${complaint}).`,
            'Look at the openings, and save the picture again.',
          ] as const,
      ),
      [
        !hasChecksum(bytes, format),
        'NO_CHECKSUM',
        `a ${kind} file has no checksum over its picture: a byte that was damaged on the way may show as nothing but other dots.`,
        'Take a PNG, or better the Gerber file, where there is one; else look at the openings.',
      ],
      [
        byOpacity,
        'OPACITY_READ',
        'the picture is light on a see-through ground; what can not be seen through was taken as its dark part.',
        'Export it in black on white if that is not what is wanted.',
      ],
      [
        field,
        'UNEVEN_LEVELS',
        `the image is unevenly lit: the brightness of its film goes from ${field?.from} to ${field?.to} of 255; its levels were taken from place to place.`,
        'Widths may be off by a few hundredths of a dot; export the artwork instead of scanning it where you can.',
      ],
      [
        apart < FAINT,
        'FAINT_LEVELS',
        `the image's dark and light parts differ by only ${apart} of 255 levels; edges are placed less exactly.`,
        'Export it in black and white.',
      ],
    ]),
  );
  chooseOpenings(map, options, warnings);
  const traced = traceMap(map, options.asDots);
  if (traced.length === 0) throw nothingDrawn('alike', file);
  const filled = options.asDots ? traced : fillOutlines(traced, file, warnings);
  if (polarity === 'auto') refuseNegativeOnPage(filled, file);
  const blurPx = edgeBlurPx(grey, traced);
  const narrow = blurPx > BLURRED_PX ? narrowerThan(NARROW_FOR_BLUR * blurPx, filled) : [];
  warnings.push(
    ...warningsIf(file, [
      [
        narrow.length,
        'BLURRED',
        `the edges in the image are blurred by about ${Number(blurPx.toFixed(1))} dots, too much for ${narrow.length} small opening(s), which come out too small: ${listed(narrow)}.`,
        'Export the artwork without scaling or scanning it, or scan it at a finer resolution.',
        narrow,
      ],
    ]),
  );
  // Openings are numbered, and a known distance is settled, before specks go.
  const pixelMm = pixelSize(source, filled, options, warnings);
  const kept = withoutSpecks(filled, pixelMm, options, warnings);
  const stepped = blurPx < NO_SHADES_PX ? narrowerThan(NARROW_IN_STEPS, kept) : [];
  warnings.push(
    ...warningsIf(file, [
      [
        stepped.length,
        'FEW_PIXELS',
        `the image has no shades between dark and light, so that each of its widths is known to one pixel only (${Number(Math.max(pixelMm.x, pixelMm.y).toFixed(3))} mm), and ${stepped.length} opening(s) are less than ${NARROW_IN_STEPS} pixels wide: ${listed(stepped)}.`,
        'Take the layer as Gerber, SVG or PDF where there is one; else export the image with smooth edges, or at 1000 dots per inch or more.',
        stepped,
      ],
    ]),
  );
  warnings.push(...toldOf(kept, source, file));
  const stepPx = blurPx < NO_SHADES_PX ? STEP_WITHOUT_SHADES_PX : STEP_PX;
  const openings = toMillimetres(kept, source.height, pixelMm, stepPx);
  return {
    format,
    openings,
    warnings,
    canvas: { widthMm: source.width * pixelMm.x, heightMm: source.height * pixelMm.y },
    bounds: boundsOf(openings),
  };
}

function withoutSpecks(
  openings: readonly PixelOpening[],
  pixelMm: PerAxis,
  { dropSpecksMm, name: file }: ReadOptions,
  warnings: Warning[],
): readonly PixelOpening[] {
  if (dropSpecksMm === undefined) return openings;
  const least = dropSpecksMm ** 2 / (pixelMm.x * pixelMm.y);
  const kept = openings.filter((opening) => openingArea(opening) >= least);
  const filled = kept.map((opening) => ({
    ...opening,
    islands: opening.islands.filter((ring) => Math.abs(ringArea(ring)) >= least),
  }));
  const specks = openings.length - kept.length;
  const spots = kept.reduce((sum, opening, i) => sum + opening.islands.length - filled[i].islands.length, 0);
  if (specks + spots === 0) return openings;
  if (kept.length === 0) {
    throw new InputError({
      code: 'NOTHING_DRAWN',
      place: { file, key: 'dropSpecksMm' },
      message: `all ${specks} openings are smaller than a square ${dropSpecksMm} mm wide.`,
      hint: 'Give a smaller --drop-specks-mm.',
    });
  }
  warnings.push({
    code: 'SPECKS_DROPPED',
    place: { file },
    message: `${specks} opening(s) and ${spots} island(s) smaller than a square ${dropSpecksMm} mm wide were dropped, as asked.`,
  });
  return filled;
}

/** Numbers of openings whose shorter side is less than so many pixels. */
const narrowerThan = (leastPx: number, openings: readonly PixelOpening[]): number[] =>
  openings.flatMap((opening, i) => {
    const { minX, minY, maxX, maxY } = regionBounds(opening);
    return Math.min(maxX - minX, maxY - minY) < leastPx ? [i + 1] : [];
  });

/** Openings that are most likely none, and those that the border may have cut off. */
function toldOf(
  openings: readonly PixelOpening[],
  { width, height }: { readonly width: number; readonly height: number },
  file: string | undefined,
): Warning[] {
  const isSpeck = (ring: Ring): boolean => Math.abs(ringArea(ring)) < SPECK_PX2;
  const hasSpeck = oncePerShape(({ outer, islands }: PixelOpening) => isSpeck(outer) || islands.some(isSpeck));
  const specks = openings.flatMap((opening, i) => (hasSpeck(opening) ? [i + 1] : []));
  let isGround = false;
  const atBorder = openings.flatMap((opening, i) => {
    const { minX, minY, maxX, maxY } = regionBounds(opening);
    isGround ||= maxX - minX > width - 2 * AT_BORDER_PX && maxY - minY > height - 2 * AT_BORDER_PX;
    const inside =
      minX > AT_BORDER_PX && minY > AT_BORDER_PX && maxX < width - AT_BORDER_PX && maxY < height - AT_BORDER_PX;
    return inside ? [] : [i + 1];
  });
  return warningsIf(file, [
    [
      specks.length,
      'SPECKS',
      `${specks.length} opening(s) are, or hold, specks of one pixel, as dirt and damaged files have them: ${listed(specks)}.`,
      'Look at them; --drop-specks-mm leaves them out.',
      specks,
    ],
    [
      atBorder.length,
      'OPENINGS_AT_BORDER',
      `${atBorder.length} opening(s) reach the image's border and were closed along it: ${listed(atBorder)}.`,
      isGround
        ? 'One of them is as large as the image: if that is the ground around the pads, the openings are the other parts (--polarity dark or light).'
        : 'Export the image with a margin if they are cut off.',
      atBorder,
    ],
  ]);
}

/** Opens an image file of any format that is read. @throws {InputError} IMAGE_DAMAGED, IMAGE_UNSUPPORTED, IMAGE_TOO_LARGE */
async function openImage(bytes: Uint8Array, format: ArtworkFormat, file: string | undefined): Promise<PixelSource> {
  if (format === 'bmp') return openBmp(bytes, file);
  const { openDecoded } = await import('./decode/by-sharp.js');
  if (format !== 'png') return openDecoded(bytes, format, file);
  const png = parsePng(bytes, file);
  return openPlainPng(png, file) ?? openDecoded(bytes, 'png', file, png);
}

/** Share of all openings that must be frames of one line width before a picture is taken as drawn in outlines. */
const FRAMES = 0.8;
/** How far a frame's line width may lie from the middle one: share of it, and pixels. */
const WIDTH_SPREAD = 0.25;
const WIDTH_SPREAD_PX = 1;
/** An outline's line is at most this share of the shape's smaller side, in so many of the shapes. */
const THIN_SHARE = 0.25;
const THIN = 0.6;
/** An opening with more islands than this and a larger share of all area than that is film with holes in it. */
const MANY_ISLANDS = 3;
const FILM_SHARE = 0.5;

/**
 * Fills artwork whose openings are drawn as thin outlines of one width, up to the lines' outer edge. Islands in filled
 * artwork, also in a single ring among filled openings, stay.
 *
 * @returns the openings as given when the picture isn't of that kind
 */
function fillOutlines(
  openings: readonly PixelOpening[],
  file: string | undefined,
  warnings: Warning[],
): readonly PixelOpening[] {
  const frames = openings.map(frameOf);
  const drawn = frames.filter((frame) => frame !== undefined).sort((a, b) => a.width - b.width);
  if (drawn.length === 0 || drawn.length < FRAMES * openings.length) return openings;
  const middle = drawn[drawn.length >> 1].width;
  const most = Math.max(WIDTH_SPREAD * middle, WIDTH_SPREAD_PX);
  const alike = drawn.filter(({ width }) => Math.abs(width - middle) <= most).length;
  // Around the smallest shapes the same line is no thin one any more.
  const thin = drawn.filter(({ isThin }) => isThin).length;
  if (alike < FRAMES * openings.length || thin < THIN * openings.length) return openings;
  const left = frames.flatMap((frame, i) => (frame === undefined ? [i + 1] : []));
  warnings.push(
    ...warningsIf(file, [
      [
        true,
        'OUTLINES_FILLED',
        `the openings are drawn as outlines, with lines about ${Number(middle.toFixed(1))} pixels wide; they were filled up to the lines' outer edge.`,
        'Export the artwork with filled shapes if that is not what is wanted.',
      ],
      [
        left.length,
        'OUTLINES_LEFT',
        `${left.length} opening(s) are no closed outlines of that line and were left as they are: ${listed(left)}.`,
        'Export the artwork with filled shapes, or at a finer resolution.',
        left,
      ],
    ]),
  );
  return openings.map((opening, i) => (frames[i] === undefined ? opening : { outer: opening.outer, islands: [] }));
}

interface Frame {
  /** Of the line that it is drawn with, pixels. */
  readonly width: number;
  readonly isThin: boolean;
}

/** A line of one width around one island; undefined for other shapes. */
function frameOf(opening: PixelOpening): Frame | undefined {
  if (opening.islands.length !== 1) return undefined;
  const [outer, inner] = [opening.outer, opening.islands[0]];
  const area = Math.abs(ringArea(outer)) - Math.abs(ringArea(inner));
  const width = (2 * area) / (ringPerimeter(outer) + ringPerimeter(inner));
  const [out, within] = [sides(outer), sides(inner)];
  // The same width on all sides: the island sits in the middle and follows the outer edge.
  const shift = Math.max(0.5 * width, 1);
  const even =
    isLineApart(out.width - within.width, width) &&
    isLineApart(out.height - within.height, width) &&
    Math.abs(out.x - within.x) <= shift &&
    Math.abs(out.y - within.y) <= shift;
  return even ? { width, isThin: width <= THIN_SHARE * Math.min(out.width, out.height) } : undefined;
}

/** Whether two sizes differ by a line on both sides; at a slanted corner the boxes differ by up to 1.42 lines, and by the stairs of both. */
function isLineApart(difference: number, width: number): boolean {
  return difference > 1.5 * width - 1 && difference < 3 * width + 2;
}

function sides(ring: Ring): { width: number; height: number; x: number; y: number } {
  const { minX, minY, maxX, maxY } = ringBounds(ring);
  return { width: maxX - minX, height: maxY - minY, x: (minX + maxX) / 2, y: (minY + maxY) / 2 };
}

/**
 * Refuses, when the polarity was left to us, a picture in which one piece with many holes makes up most of what would be
 * openings: most likely a negative on a light page.
 *
 * @throws {InputError} POLARITY_UNCLEAR
 */
function refuseNegativeOnPage(openings: readonly PixelOpening[], file: string | undefined): void {
  const areas = openings.map(openingArea);
  const all = areas.reduce((sum, area) => sum + area, 0);
  const film = openings.findIndex(({ islands }, i) => islands.length > MANY_ISLANDS && areas[i] > FILM_SHARE * all);
  if (film >= 0)
    throw unclear(file, `one piece has ${openings[film].islands.length} islands, which would fall out of it`);
}
