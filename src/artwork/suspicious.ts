import type { Warning } from '../errors.js';
import { openingArea, openingCentroid, openingPerimeter } from '../geometry/area.js';
import { boundsOf, regionBounds } from '../geometry/bounds.js';
import { requireOpenings } from '../geometry/clean.js';
import { orientedBox } from '../geometry/oriented-box.js';
import type { Box, Opening, Ring } from '../geometry/types.js';
import { insideRing } from '../geometry/walls.js';
import { checkGiven, either, listOf, objectOf, someNumber } from '../given.js';
import { oneOrMany } from '../text.js';

/** A frame covers less of its box than this, and its box holds this share of everything. Common practice, no source. */
const FRAME_FILL = 0.15;
const FRAME_HOLDS = 0.5;
/** Longer than so many widths is no land of a part, however it is drawn. */
const THIN_RATIO = 25;
/** Drawn with strokes, this much length is a line or an I, and this little filling of its box a letter. */
const STROKE_RATIO = 7;
const STROKE_FILL = 0.6;
/** Among lands that are nearly all flashed, a stroke is odd in itself. */
const MOSTLY_FLASHED = 0.8;
const STROKE_RATIO_AMONG_FLASHES = 3;
/** Farther out than so many times what nine tenths of the openings keep to, and so many mm more, is apart. */
const FAR_TIMES = 3;
const FAR_MM = 20;
/** Fewer openings than this have no middle to be far from. */
const FAR_LEAST = 10;

/** The codes of {@link findSuspicious}: what a reader found without the board can be found again with it. */
export const SUSPICIOUS_CODES: ReadonlySet<string> = new Set([
  'LOOKS_LIKE_FRAME',
  'OUTSIDE_BOARD',
  'FAR_APART',
  'LOOKS_LIKE_DRAWING',
  'LOOKS_LIKE_LINE',
]);

const BOX = { minX: someNumber, minY: someNumber, maxX: someNumber, maxY: someNumber };

/** An opening with what is measured on it once. */
interface Looked {
  readonly number: number;
  readonly opening: Opening;
  readonly box: Box;
  readonly areaMm2: number;
}

/**
 * Things on a paste layer that are probably no openings for paste: frames, texts and lines drawn with strokes, very
 * long thin shapes, what lies far from the rest or outside the board. They are kept; the user is told.
 *
 * @param openings - of any format
 * @param board - the board's outline as a ring or its box, mm, if known
 * @returns warnings with opening numbers from 1; each opening is named once
 * @example findSuspicious(openings).length // 0
 */
export function findSuspicious(openings: readonly Opening[], board?: Box | Ring): Warning[] {
  requireOpenings(openings);
  checkGiven('findSuspicious', { board }, { board: either(listOf(listOf(someNumber, 2), 3), objectOf(BOX)) });
  const all = boundsOf(openings);
  if (!all) return [];
  const far = farApart(openings);
  const flashed = openings.filter(({ tag }) => tag?.drawn === 'flash').length;
  const ratio = flashed > MOSTLY_FLASHED * openings.length ? STROKE_RATIO_AMONG_FLASHES : STROKE_RATIO;
  const tests: readonly (readonly [string, string, (item: Looked) => boolean])[] = [
    ['LOOKS_LIKE_FRAME', 'a frame around the layer', (item) => looksLikeFrame(item, all, openings.length)],
    ['OUTSIDE_BOARD', 'something outside the board', (item) => board !== undefined && outside(item, board)],
    ['FAR_APART', 'something off the board (far from all others)', ({ number }) => far.has(number)],
    [
      'LOOKS_LIKE_DRAWING',
      'text or lines (drawn with strokes, not the shape of a land)',
      (item) => looksLikeDrawing(item, ratio),
    ],
    ['LOOKS_LIKE_LINE', 'a line (very long and thin)', looksLikeLine],
  ];
  const found: number[][] = tests.map(() => []);
  openings.forEach((opening, i) => {
    const item = { number: i + 1, opening, box: regionBounds(opening), areaMm2: openingArea(opening) };
    found[tests.findIndex(([, , test]) => test(item))]?.push(item.number);
  });
  return tests.flatMap(([code, what], t) => (found[t].length > 0 ? [warning(code, found[t], what)] : []));
}

function warning(code: string, found: readonly number[], what: string): Warning {
  return {
    code,
    message: `${oneOrMany(found.length, 'opening looks', 'openings look')} like ${what}, not like paste.`,
    hint: 'They are kept; drop them with a rule of `treat` if they are not wanted.',
    openings: found,
  };
}

const sizeOf = (box: Box): number => (box.maxX - box.minX) * (box.maxY - box.minY);

function looksLikeFrame({ box, areaMm2 }: Looked, all: Box, count: number): boolean {
  return count > 1 && sizeOf(box) > FRAME_HOLDS * sizeOf(all) && areaMm2 < FRAME_FILL * sizeOf(box);
}

/** Pads painted with many strokes fill their box; a land drawn as one short stroke is only a few widths long. */
function looksLikeDrawing(item: Looked, ratio: number): boolean {
  if (item.opening.tag?.drawn !== 'stroke') return false;
  const { widthMm, heightMm } = orientedBox(item.opening.outer);
  const fill = item.areaMm2 / (widthMm * heightMm);
  return fill < STROKE_FILL || ratioOf(widthMm, heightMm) > ratio;
}

function looksLikeLine({ opening, areaMm2 }: Looked): boolean {
  // A rectangle of that ratio has this area in units of its perimeter squared; what has more needs no closer look.
  const compact = THIN_RATIO / (4 * (THIN_RATIO + 1) ** 2);
  if (areaMm2 > compact * openingPerimeter(opening) ** 2) return false;
  const { widthMm, heightMm } = orientedBox(opening.outer);
  return ratioOf(widthMm, heightMm) > THIN_RATIO;
}

const ratioOf = (p: number, q: number): number => Math.max(p, q) / Math.min(p, q);

function outside({ opening, box }: Looked, board: Box | Ring): boolean {
  if ('minX' in board)
    return box.maxX < board.minX || box.minX > board.maxX || box.maxY < board.minY || box.minY > board.maxY;
  return !insideRing(openingCentroid(opening), board) && !opening.outer.some((p) => insideRing(p, board));
}

/** Numbers of the few openings that lie much farther out than nearly all others. */
function farApart(openings: readonly Opening[]): ReadonlySet<number> {
  const far = new Set<number>();
  const count = openings.length;
  if (count < FAR_LEAST) return far;
  const [xs, ys, distances] = [new Float64Array(count), new Float64Array(count), new Float64Array(count)];
  for (let i = 0; i < count; i += 1) {
    const box = regionBounds(openings[i]);
    xs[i] = (box.minX + box.maxX) / 2;
    ys[i] = (box.minY + box.maxY) / 2;
  }
  const quantile = (values: Float64Array, share: number): number =>
    values.toSorted()[Math.floor((values.length - 1) * share)];
  const [x, y] = [quantile(xs, 0.5), quantile(ys, 0.5)];
  for (let i = 0; i < count; i += 1) distances[i] = Math.sqrt((xs[i] - x) ** 2 + (ys[i] - y) ** 2);
  const limitMm = FAR_TIMES * quantile(distances, 0.9) + FAR_MM;
  distances.forEach((distanceMm, i) => {
    if (distanceMm > limitMm) far.add(i + 1);
  });
  return far;
}
