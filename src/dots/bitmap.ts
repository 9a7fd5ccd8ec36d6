import type { PlacedStamp } from './stamp.js';

/** One bit a dot, eight dots a byte, most significant bit first; 1 is burnt. Row 0 is the upper one. */
export interface Bitmap {
  readonly width: number;
  readonly height: number;
  readonly rowBytes: number;
  readonly data: Uint8Array;
}

export function emptyBitmap(width: number, height: number): Bitmap {
  const rowBytes = Math.ceil(width / 8);
  return { width, height, rowBytes, data: new Uint8Array(rowBytes * height) };
}

/** Burns a stamp; what lies outside the canvas is left out. */
export function paint({ width, height, rowBytes, data }: Bitmap, { stamp, column, row }: PlacedStamp): void {
  const { rowStart, runs } = stamp;
  const firstRow = Math.max(0, -row);
  const lastRow = Math.min(stamp.height, height - row);
  for (let r = firstRow; r < lastRow; r += 1) {
    const base = (row + r) * rowBytes;
    for (let k = rowStart[r]; k < rowStart[r + 1]; k += 2) {
      const start = Math.max(0, column + runs[k]);
      const end = Math.min(width, column + runs[k + 1]);
      if (end > start) setRun(data, base, start, end);
    }
  }
}

function setRun(data: Uint8Array, base: number, start: number, end: number): void {
  const first = base + (start >> 3);
  const last = base + ((end - 1) >> 3);
  const head = 0xff >> (start & 7);
  const tail = (0xff << (7 - ((end - 1) & 7))) & 0xff;
  if (first === last) {
    data[first] |= head & tail;
    return;
  }
  data[first] |= head;
  if (last - first > 1) data.fill(0xff, first + 1, last);
  data[last] |= tail;
}

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

/**
 * Paints one line of the canvas after the other, from the upper one, with a level for each opening. Later openings
 * cover earlier ones.
 */
export function paintGrey(
  placed: readonly PlacedStamp[],
  lines: number,
  level: (index: number) => number,
): (line: number, target: Uint8Array) => void {
  const onLine = Array.from({ length: lines }, (): number[] => []);
  placed.forEach(({ row, stamp }, i) => {
    const end = Math.min(lines, row + stamp.height);
    for (let line = Math.max(0, row); line < end; line += 1) onLine[line].push(i);
  });
  return (line, target) => {
    for (const i of onLine[line]) {
      const { stamp, column, row } = placed[i];
      const { rowStart, runs } = stamp;
      for (let k = rowStart[line - row]; k < rowStart[line - row + 1]; k += 2) {
        target.fill(
          level(i),
          Math.max(0, column + runs[k]),
          Math.max(0, Math.min(target.length, column + runs[k + 1])),
        );
      }
    }
  };
}
