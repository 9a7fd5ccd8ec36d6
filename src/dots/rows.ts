import type { Bitmap } from './bitmap.js';

/** The rows of a 1-bit image as they are written, from the upper one; 1 is burnt. Undefined is a row of film alone. */
export interface Rows {
  readonly width: number;
  readonly height: number;
  readonly rowBytes: number;
  row(index: number): Uint8Array | undefined;
}

/** Which of the rows that a line of dots is gets burnt: the middle one, or of an even number the one above. */
export const burntRow = (rowsPerLine: number): number => (rowsPerLine - 1) >> 1;

/** How far that row lies above the middle of its line, as a share of the line. */
export const burntAbove = (rowsPerLine: number): number => 0.5 - (burntRow(rowsPerLine) + 0.5) / rowsPerLine;

/** The bitmap's lines as rows of an image in which only every n-th row is burnt: the middle one of each group. */
export function rowsOf(bitmap: Bitmap, rowsPerLine = 1): Rows {
  const { width, height, rowBytes, data } = bitmap;
  const burnt = burntRow(rowsPerLine);
  return {
    width,
    height: height * rowsPerLine,
    rowBytes,
    row(index) {
      if (index % rowsPerLine !== burnt) return undefined;
      const start = Math.floor(index / rowsPerLine) * rowBytes;
      const row = data.subarray(start, start + rowBytes);
      return isBlank(row) ? undefined : row;
    },
  };
}

function isBlank(row: Uint8Array): boolean {
  for (let i = 0; i < row.length; i += 1) if (row[i] !== 0) return false;
  return true;
}

/** Copies a row into `target` so that 0 is dark: openings dark on light film, or the other way round. */
export function lightRow(row: Uint8Array | undefined, target: Uint8Array, negative: boolean): void {
  if (!row) target.fill(negative ? 0x00 : 0xff);
  else if (negative) target.set(row);
  else for (let i = 0; i < row.length; i += 1) target[i] = ~row[i];
}
