import { burntRow, paintGrey } from '../../dots/bitmap.js';
import type { PlacedStamp } from '../../dots/stamp.js';
import { encodePng, type PngHeader } from './png.js';

export interface GreyOptions {
  readonly pitch: PngHeader['pitch'];
  readonly negative: boolean;
  readonly title?: string;
  readonly rowsPerLine: number;
  /** Grey level of each opening, 0 black to 255. */
  readonly levels: (index: number) => number;
}

/**
 * An 8-bit grey PNG for machines that take grey as power: film white and each opening at its level; a negative has
 * film black and 255 less the level. Painted line by line, so that no 8-bit canvas is ever held.
 */
export function writeGreyPng(
  placed: readonly PlacedStamp[],
  widthPx: number,
  lines: number,
  options: GreyOptions,
): Promise<Uint8Array> {
  const { rowsPerLine, negative, levels } = options;
  const burnt = burntRow(rowsPerLine);
  const paintLine = paintGrey(placed, lines, negative ? (i) => 255 - levels(i) : levels);
  const film = negative ? 0 : 255;
  return encodePng({ ...options, width: widthPx, height: lines * rowsPerLine, bitDepth: 8 }, (row, target) => {
    target.fill(film);
    if (row % rowsPerLine === burnt) paintLine(Math.floor(row / rowsPerLine), target);
  });
}
