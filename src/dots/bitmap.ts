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

/** Whether a dot is burnt; false outside the canvas. */
export function isBurnt({ width, height, rowBytes, data }: Bitmap, column: number, row: number): boolean {
  if (column < 0 || row < 0 || column >= width || row >= height) return false;
  return ((data[row * rowBytes + (column >> 3)] >> (7 - (column & 7))) & 1) === 1;
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
