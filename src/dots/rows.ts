import type { PerAxis } from '../geometry/types.js';
import type { PlacedStamp } from './stamp.js';

/** An image as it is written: row by row from the upper one, so that no canvas is ever held. */
export interface Rows {
  readonly width: number;
  readonly height: number;
  readonly bitDepth: 1 | 8;
  readonly rowBytes: number;
  /** Distance between two columns and two rows, mm. */
  readonly pitch: PerAxis;
  /** Writes the samples of a row, of 1 bit the leftmost dot first, into all of an array. */
  fill(row: number, target: Uint8Array): void;
}

/** Which of the rows that a line of dots is gets burnt: the middle one, or of an even number the one above. */
const burntRow = (rowsPerLine: number): number => (rowsPerLine - 1) >> 1;

/** How far that row lies above the middle of its line, as a share of the line. */
export const burntAbove = (rowsPerLine: number): number => 0.5 - (burntRow(rowsPerLine) + 0.5) / rowsPerLine;

/** The canvas in dots. */
interface Canvas {
  readonly widthPx: number;
  /** Lines of dots, each of which is so many rows of the image. */
  readonly lines: number;
  readonly rowsPerLine: number;
  readonly pitch: PerAxis;
}

/**
 * Burns stamps; what lies outside the canvas is left out. Film is light and openings are dark; in a negative it is the
 * other way round.
 *
 * @param levels - grey level of each opening, 0 black to 255, for machines that take grey as power; later openings cover
 *   earlier ones. Not given: an image of 1 bit
 */
export function rowsOf(
  placed: readonly PlacedStamp[],
  { widthPx, lines, rowsPerLine, pitch }: Canvas,
  negative: boolean,
  levels?: (index: number) => number,
): Rows {
  const onLine = Array.from({ length: lines }, (): number[] => []);
  placed.forEach(({ row, stamp }, i) => {
    const end = Math.min(lines, row + stamp.height);
    for (let line = Math.max(0, row); line < end; line += 1) onLine[line].push(i);
  });
  const bitDepth = levels ? 8 : 1;
  return {
    ...{ width: widthPx, height: lines * rowsPerLine, bitDepth, pitch },
    rowBytes: Math.ceil((widthPx * bitDepth) / 8),
    fill(index, target) {
      target.fill(negative ? 0x00 : 0xff);
      if (index % rowsPerLine !== burntRow(rowsPerLine)) return;
      const line = Math.floor(index / rowsPerLine);
      for (const i of onLine[line]) {
        const { stamp, column, row } = placed[i];
        const level = levels && (negative ? 255 - levels(i) : levels(i));
        const runs = stamp.rows[line - row];
        for (let k = 0; k < runs.length; k += 2) {
          const start = Math.max(0, column + runs[k]);
          const end = Math.min(widthPx, column + runs[k + 1]);
          if (end <= start) continue;
          if (level === undefined) setBits(target, start, end, negative);
          else target.fill(level, start, end);
        }
      }
    },
  };
}

/** Sets bits to 1, or to 0. */
function setBits(row: Uint8Array, start: number, end: number, to: boolean): void {
  const [first, last] = [start >> 3, (end - 1) >> 3];
  const set = (at: number, bits: number): void => {
    row[at] = to ? row[at] | bits : row[at] & ~bits;
  };
  const [head, tail] = [0xff >> (start & 7), 0xff << (7 - ((end - 1) & 7))];
  set(first, first === last ? head & tail : head);
  if (first === last) return;
  row.fill(to ? 0xff : 0x00, first + 1, last);
  set(last, tail);
}
