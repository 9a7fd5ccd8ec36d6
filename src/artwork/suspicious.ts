import type { Warning } from '../errors.js';
import { openingArea, openingPerimeter } from '../geometry/area.js';
import { boundsOf, ringBounds } from '../geometry/bounds.js';
import { orientedBox } from '../geometry/oriented-box.js';
import type { Box, Opening } from '../geometry/types.js';

/** A frame covers less of its box than this, and most of everything else lies inside its box. */
const FRAME_FILL = 0.15;
const FRAME_HOLDS = 0.5;
/** Longer than so many widths is no land of a part. */
const THIN_RATIO = 25;
/** A rectangle of that ratio has this area in units of its perimeter squared; what has more needs no closer look. */
const THIN_COMPACTNESS = THIN_RATIO / (4 * (THIN_RATIO + 1) ** 2);
/** Strokes are suspicious where at least this share of the openings are flashes. */
const MOSTLY_FLASHES = 0.5;

/**
 * Things on a paste layer that are probably no openings for paste: frames, texts drawn with strokes, lines, and what
 * lies outside the board. They are kept; the user is told.
 *
 * @param openings - of any format
 * @param board - box of the board's outline, mm, if known
 * @returns warnings with opening numbers from 1
 */
export function findSuspicious(openings: readonly Opening[], board?: Box): Warning[] {
  const numbers = (test: (opening: Opening, box: Box) => boolean): number[] =>
    openings.flatMap((opening, i) => (test(opening, ringBounds(opening.outer)) ? [i + 1] : []));
  const all = boundsOf(openings);
  if (!all) return [];
  const boxArea = (box: Box): number => (box.maxX - box.minX) * (box.maxY - box.minY);
  const frames = numbers(
    (opening, box) =>
      boxArea(box) > FRAME_HOLDS * boxArea(all) &&
      openings.length > 1 &&
      openingArea(opening) < FRAME_FILL * boxArea(box),
  );
  const flashes = openings.filter(({ tag }) => tag?.drawn === 'flash').length;
  const strokes =
    flashes >= MOSTLY_FLASHES * openings.length
      ? numbers(({ tag }) => tag?.drawn === 'stroke').filter((n) => !frames.includes(n))
      : [];
  const thin = numbers((opening) => {
    if (openingArea(opening) > THIN_COMPACTNESS * openingPerimeter(opening) ** 2) return false;
    const { widthMm, heightMm } = orientedBox(opening.outer);
    return Math.max(widthMm, heightMm) > THIN_RATIO * Math.min(widthMm, heightMm);
  }).filter((n) => !frames.includes(n) && !strokes.includes(n));
  const outside = board
    ? numbers(
        (_, box) => box.maxX < board.minX || box.minX > board.maxX || box.maxY < board.minY || box.minY > board.maxY,
      )
    : [];
  const warning = (code: string, found: readonly number[], what: string): Warning[] =>
    found.length === 0
      ? []
      : [
          {
            code,
            message: `${found.length === 1 ? 'one opening looks' : `${found.length} openings look`} like ${what}, not like paste.`,
            hint: 'They are kept; drop them with a rule of `treat` if they are not wanted.',
            openings: found,
          },
        ];
  return [
    ...warning('LOOKS_LIKE_FRAME', frames, 'a frame around the layer'),
    ...warning('LOOKS_LIKE_DRAWING', strokes, 'text or lines (drawn with strokes among flashed lands)'),
    ...warning('LOOKS_LIKE_LINE', thin, 'a line (very long and thin)'),
    ...warning('OUTSIDE_BOARD', outside, 'something outside the board'),
  ];
}
