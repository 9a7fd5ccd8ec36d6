/** Pixels in one block: one word of bits. */
export const BLOCK = 32;
/** Blocks in one page. */
export const PAGE_BLOCKS = 4096;

/**
 * How far each pixel is covered by openings, held small: one bit a pixel (covered by at least one half) and the 8-bit
 * coverage only where a block of 32 pixels isn't uniform.
 *
 * Padded by one word on the left, at least one bit on the right, and one row above and below, all film, so that
 * contours close along the border without bounds checks: pixel (x, y) is bit (x + 32) of row (y + 1).
 */
export interface CoverageMap {
  readonly width: number;
  readonly height: number;
  /** Words of 32 bits in a padded row. */
  readonly words: number;
  /** Bytes in a padded row, most significant bit leftmost. */
  readonly stride: number;
  readonly bits: Uint8Array;
  /** Per word of `bits`: 1 + number of its grey block, or 0 for a uniform word. Empty for pure 1-bit images. */
  readonly blockOf: Uint32Array;
  readonly pages: readonly Uint8Array[];
}

/** Coverage 0..255 of the pixel at padded place (px, py). */
export function coverageAt(map: CoverageMap, px: number, py: number): number {
  if (map.blockOf.length > 0) {
    const block = map.blockOf[py * map.words + (px >> 5)];
    if (block !== 0) {
      const n = block - 1;
      return map.pages[(n / PAGE_BLOCKS) | 0][(n % PAGE_BLOCKS) * BLOCK + (px & 31)];
    }
  }
  return (map.bits[py * map.stride + (px >> 3)] >> (7 - (px & 7))) & 1 ? 255 : 0;
}

/** Swaps film and openings in place. Pixels beyond the border stay film. */
export function invertCoverage(map: CoverageMap): void {
  const { width, height, words, bits, stride } = map;
  const view = new Int32Array(bits.buffer);
  const whole = width >> 5;
  for (let y = 1; y <= height; y += 1) {
    const base = y * words + 1;
    for (let w = 0; w < whole; w += 1) view[base + w] = ~view[base + w];
    for (let x = whole * BLOCK; x < width; x += 8) {
      const left = width - x;
      const mask = left >= 8 ? 0xff : (0xff << (8 - left)) & 0xff;
      bits[y * stride + 4 + (x >> 3)] ^= mask;
    }
  }
  for (const page of map.pages) for (let i = 0; i < page.length; i += 1) page[i] = 255 - page[i];
  const used = width % BLOCK;
  if (map.blockOf.length === 0 || used === 0) return;
  for (let y = 1; y <= height; y += 1) {
    const block = map.blockOf[y * words + 1 + whole];
    if (block === 0) continue;
    const n = block - 1;
    const start = (n % PAGE_BLOCKS) * BLOCK;
    map.pages[(n / PAGE_BLOCKS) | 0].fill(0, start + used, start + BLOCK);
  }
}

/** Share of covered pixels: of the whole image, and of its outermost pixels. */
export function coverageShares(map: CoverageMap): { readonly all: number; readonly border: number } {
  const { width, height, bits, stride } = map;
  const words = new Int32Array(bits.buffer, bits.byteOffset, bits.length >> 2);
  let all = 0;
  for (let i = 0; i < words.length; i += 1) {
    const word = words[i];
    if (word === -1) all += BLOCK;
    else if (word !== 0) all += bitCount(word);
  }
  const isSet = (px: number, py: number): number => (bits[py * stride + (px >> 3)] >> (7 - (px & 7))) & 1;
  let border = 0;
  for (let x = 0; x < width; x += 1) border += isSet(x + BLOCK, 1) + isSet(x + BLOCK, height);
  for (let y = 1; y <= height; y += 1) border += isSet(BLOCK, y) + isSet(BLOCK + width - 1, y);
  return { all: all / (width * height), border: border / (2 * (width + height)) };
}

function bitCount(word: number): number {
  let v = word - ((word >>> 1) & 0x55555555);
  v = (v & 0x33333333) + ((v >>> 2) & 0x33333333);
  return Math.imul((v + (v >>> 4)) & 0x0f0f0f0f, 0x01010101) >>> 24;
}

/** Maps all grey levels, in place. The table must leave 0 and 255 as they are. */
export function mapLevels(map: CoverageMap, table: Uint8Array): void {
  const { blockOf, pages, bits } = map;
  for (const page of pages) for (let i = 0; i < page.length; i += 1) page[i] = table[page[i]];
  for (let word = 0; word < blockOf.length; word += 1) {
    if (blockOf[word] === 0) continue;
    const n = blockOf[word] - 1;
    const page = pages[(n / PAGE_BLOCKS) | 0];
    const from = (n % PAGE_BLOCKS) * BLOCK;
    for (let b = 0; b < 4; b += 1) {
      let byte = 0;
      for (let k = 0; k < 8; k += 1) byte = (byte << 1) | (page[from + b * 8 + k] >> 7);
      bits[word * 4 + b] = byte;
    }
  }
}
