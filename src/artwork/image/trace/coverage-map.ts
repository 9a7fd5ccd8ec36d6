/** Columns of film on the left of all rows. */
const LEFT = 32;
/** Rows for which room is made at once. */
const ROWS_AT_ONCE = 64;

/**
 * How light, and later how far covered by openings, each pixel is, 0 to 255. Of rows that follow each other and are
 * alike one is held: film and upright walls make most of them so.
 *
 * Padded by 32 columns on the left, at least one on the right, and one row above and below, all 0, so that contours
 * close along the border without bounds checks: pixel (x, y) is number x + 32 of row y + 1.
 */
export class CoverageMap {
  readonly rows: Uint8Array[];
  private block = new Uint8Array(0);
  /** Length of a row, a multiple of 32. */
  readonly length: number;
  /** How many pixels have each level. */
  readonly counts = new Float64Array(256);
  /** The same of the last row: of most rows little differs from the one above. */
  private readonly inRow = new Int32Array(256);

  constructor(
    readonly width: number,
    readonly height: number,
  ) {
    this.length = (Math.ceil((width + 1) / 32) + 1) * 32;
    this.rows = [new Uint8Array(this.length)];
    this.inRow[0] = width;
  }

  /** Adds a row at the bottom; of its bytes the first `width` are copied. */
  add(row: Uint8Array): void {
    const { rows, width, inRow } = this;
    const pixels = row.subarray(0, width);
    const last = rows[rows.length - 1];
    if (rows.length > 1 && Buffer.compare(last.subarray(LEFT, LEFT + width), pixels) === 0) {
      this.repeat();
      return;
    }
    const own = this.blank();
    own.set(pixels, LEFT);
    const [above, words] = [wordsOf(last), wordsOf(own)];
    for (let w = 0; w < words.length; w += 1) {
      if (words[w] === above[w]) continue;
      for (let x = 4 * w; x < 4 * w + 4; x += 1) {
        inRow[last[x]] -= 1;
        inRow[own[x]] += 1;
      }
    }
    this.push(own);
  }

  /** Room for one more row, taken from a block: thousands of small ones by themselves keep the collector busy. */
  private blank(): Uint8Array {
    if (this.block.length === 0) this.block = new Uint8Array(ROWS_AT_ONCE * this.length);
    const own = this.block.subarray(0, this.length);
    this.block = this.block.subarray(this.length);
    return own;
  }

  /** Adds the last row again. */
  repeat(): void {
    this.push(this.rows[this.rows.length - 1]);
  }

  private push(row: Uint8Array): void {
    const { counts, inRow } = this;
    for (let level = 0; level < 256; level += 1) counts[level] += inRow[level];
    this.rows.push(row);
    if (this.rows.length === this.height + 1) this.rows.push(new Uint8Array(this.length));
  }

  /** The pixels of each row that is held, from the top down, how many rows it is, and the first of them. */
  *held(): Iterable<readonly [pixels: Uint8Array, times: number, y: number]> {
    for (let from = 1, to = 2; from <= this.height; from = to, to += 1) {
      while (this.rows[to] === this.rows[from]) to += 1;
      yield [this.rows[from].subarray(LEFT, LEFT + this.width), to - from, from - 1];
    }
  }

  /** Whether all pixels are wholly light or dark. */
  get isBits(): boolean {
    return this.counts[0] + this.counts[255] === this.width * this.height;
  }

  /** Puts other levels in the place of these. */
  replace(levels: Uint8Array): void {
    const counts = this.counts.slice();
    this.counts.fill(0);
    counts.forEach((count, level) => {
      this.counts[levels[level]] += count;
    });
    for (const [pixels] of this.held()) for (let x = 0; x < pixels.length; x += 1) pixels[x] = levels[pixels[x]];
  }

  /** Puts other levels in the place of these, by where they are. */
  relight(change: (pixels: Uint8Array, y: number) => void): void {
    const rows = this.rows.splice(1);
    this.counts.fill(0);
    this.inRow.fill(0)[0] = this.width;
    for (let y = 0; y < this.height; y += 1) {
      const pixels = rows[y].slice(LEFT, LEFT + this.width);
      change(pixels, y);
      this.add(pixels);
    }
  }

  /** Swaps light and dark. */
  invert(): void {
    this.counts.reverse();
    for (const [pixels] of this.held()) {
      const words = wordsOf(pixels);
      for (let w = 0; w < words.length; w += 1) words[w] = ~words[w];
      for (let x = 4 * words.length; x < pixels.length; x += 1) pixels[x] = 255 - pixels[x];
    }
  }

  /** Whether a pixel is covered by at least one half. */
  isOpen(px: number, py: number): boolean {
    return this.rows[py][px] > 127;
  }
}

/** Pixels four by four, as far as they go. */
const wordsOf = ({ buffer, byteOffset, length }: Uint8Array): Int32Array =>
  new Int32Array(buffer, byteOffset, length >> 2);

/** Share of open pixels: of the whole image, and of its outermost pixels. */
export function coverageShares(map: CoverageMap): { readonly all: number; readonly border: number } {
  const { width, height } = map;
  const open = map.counts.reduce((sum, count, level) => sum + (level > 127 ? count : 0), 0);
  let border = 0;
  for (let px = LEFT; px < LEFT + width; px += 1) {
    for (const py of [1, height]) if (map.isOpen(px, py)) border += 1;
  }
  for (let py = 1; py <= height; py += 1) {
    for (const px of [LEFT, LEFT + width - 1]) if (map.isOpen(px, py)) border += 1;
  }
  return { all: open / (width * height), border: border / (2 * (width + height)) };
}

/**
 * A map of an image in memory.
 *
 * @param data - row by row from the top
 */
export function coverageMapOf(width: number, height: number, data: Uint8Array): CoverageMap {
  const map = new CoverageMap(width, height);
  for (let y = 0; y < height; y += 1) map.add(data.subarray(y * width, (y + 1) * width));
  return map;
}
