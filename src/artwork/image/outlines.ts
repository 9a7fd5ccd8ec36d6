import { type Warning, warningsIf } from '../../errors.js';
import { ringArea, ringPerimeter } from '../../geometry/area.js';
import { ringBounds } from '../../geometry/bounds.js';
import type { Ring } from '../../geometry/types.js';
import { unclear } from './polarity.js';
import { listed } from './refusals.js';
import type { PixelOpening } from './trace/trace.js';

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
export function fillOutlines(
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
function frameOf({ outer, islands }: PixelOpening): Frame | undefined {
  if (islands.length !== 1) return undefined;
  const [inner] = islands;
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
export function refuseNegativeOnPage(openings: readonly PixelOpening[], file: string | undefined): void {
  const areas = openings.map(({ outer, islands }) =>
    islands.reduce((sum, ring) => sum - Math.abs(ringArea(ring)), Math.abs(ringArea(outer))),
  );
  const all = areas.reduce((sum, area) => sum + area, 0);
  const film = openings.findIndex(({ islands }, i) => islands.length > MANY_ISLANDS && areas[i] > FILM_SHARE * all);
  if (film >= 0)
    throw unclear(file, `one piece has ${openings[film].islands.length} islands, which would fall out of it`);
}
