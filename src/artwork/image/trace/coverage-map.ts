import { InputError } from '../../../errors.js';

/** Pixels in one block: one word of bits. */
const BLOCK = 32;
/** Blocks in one page. */
const PAGE_BLOCKS = 4096;

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

/** Most grey blocks kept: 256 MB. Clean artwork needs about a fiftieth of it. */
const MAX_BLOCKS = 8_388_608;

/** Takes rows from the top down and builds a coverage map. */
export interface CoverageBuilder {
  /** A row of 8-bit coverage, 0 film to 255 open; its buffer is at least a multiple of 32 long, the rest zero. */
  addGreyRow(row: Uint8Array): void;
  /** A row of bits, set where open; `width` bits, the rest of the last byte may hold anything. */
  addBitRow(row: Uint8Array): void;
  /** The same as the row before. */
  repeatRow(): void;
  /** Pixels of each level so far, of the rows of 8-bit coverage. */
  readonly counts: Float64Array;
  finish(): CoverageMap;
}

/** More grey than was allowed: the levels of the image are probably not 0 and 255. */
export class TooGrey extends Error {}

/**
 * Starts an empty map.
 *
 * @param grey - false saves the block table for images that are 1-bit by format
 * @param allowedShare - share of the image's blocks that may be grey before {@link TooGrey} is thrown
 * @throws {InputError} (from its methods) IMAGE_TOO_BUSY when the image is grey nearly everywhere
 */
export function coverageBuilder(width: number, height: number, grey: boolean, allowedShare = 1): CoverageBuilder {
  const words = Math.ceil((width + 1) / BLOCK) + 1;
  const stride = words * 4;
  const bits = new Uint8Array(stride * (height + 2));
  const bitWords = new Int32Array(bits.buffer);
  const blockOf = new Uint32Array(grey ? words * (height + 2) : 0);
  const pages: Uint8Array[] = [];
  const counts = new Float64Array(256);
  const used = Math.ceil(width / BLOCK);
  const beyond = used * BLOCK - width;
  const allowed = Math.max(4096, allowedShare * used * height);
  const tailMask = width % 8 === 0 ? 0xff : (0xff << (8 - (width % 8))) & 0xff;
  const rowBytes = Math.ceil(width / 8);
  let blocks = 0;
  let y = 1;
  /** Repeats of the last row whose pixels are not counted yet. */
  let uncounted = 0;

  function keepBlock(row: Uint8Array, x: number): number {
    const slot = blocks % PAGE_BLOCKS;
    if (slot === 0) {
      if (blocks > allowed) throw new TooGrey();
      if (blocks >= MAX_BLOCKS) throw tooBusy();
      pages.push(new Uint8Array(PAGE_BLOCKS * BLOCK));
    }
    pages[pages.length - 1].set(row.subarray(x, x + BLOCK), slot * BLOCK);
    blocks += 1;
    return blocks;
  }

  /** A word that isn't all film or all open. */
  function addMixed(row: Uint8Array, at: number, word: number): void {
    let partial = false;
    for (let b = 0; b < 4; b += 1) {
      let byte = 0;
      for (let k = 0; k < 8; k += 1) {
        const v = row[at + b * 8 + k];
        byte = (byte << 1) | (v >> 7);
        counts[v] += 1;
        if (v !== 0 && v !== 255) partial = true;
      }
      bits[word * 4 + b] = byte;
    }
    if (partial) blockOf[word] = keepBlock(row, at);
  }

  return {
    get counts() {
      countRepeats();
      return counts;
    },
    addGreyRow(row) {
      countRepeats();
      const view = new Int32Array(row.buffer, row.byteOffset, row.length >> 2);
      const base = y * words + 1;
      let open = 0;
      let film = 0;
      for (let w = 0; w < used; w += 1) {
        const i = w * 8;
        const first = view[i];
        if (
          (first === 0 || first === -1) &&
          view[i + 1] === first &&
          view[i + 2] === first &&
          view[i + 3] === first &&
          view[i + 4] === first &&
          view[i + 5] === first &&
          view[i + 6] === first &&
          view[i + 7] === first
        ) {
          bitWords[base + w] = first;
          if (first === 0) film += 1;
          else open += 1;
        } else addMixed(row, w * BLOCK, base + w);
      }
      counts[0] += film * BLOCK - beyond;
      counts[255] += open * BLOCK;
      y += 1;
    },
    addBitRow(row) {
      const at = y * stride + 4;
      bits.set(row.length === rowBytes ? row : row.subarray(0, rowBytes), at);
      bits[at + rowBytes - 1] &= tailMask;
      y += 1;
    },
    repeatRow() {
      bits.copyWithin(y * stride, (y - 1) * stride, y * stride);
      if (grey) {
        blockOf.copyWithin(y * words, (y - 1) * words, y * words);
        uncounted += 1;
      }
      y += 1;
    },
    finish: () => ({ width, height, words, stride, bits, blockOf, pages }),
  };

  function countRepeats(): void {
    const times = uncounted;
    if (times === 0) return;
    uncounted = 0;
    const base = (y - 1) * words + 1;
    let film = 0;
    let open = 0;
    for (let w = 0; w < used; w += 1) {
      const block = blockOf[base + w];
      const word = bitWords[base + w];
      if (block !== 0) {
        const page = pages[((block - 1) / PAGE_BLOCKS) | 0];
        const from = ((block - 1) % PAGE_BLOCKS) * BLOCK;
        for (let k = 0; k < BLOCK; k += 1) counts[page[from + k]] += times;
      } else if (word === 0) film += BLOCK;
      else if (word === -1) open += BLOCK;
      else for (let k = 0; k < BLOCK; k += 1) counts[(word >> k) & 1 ? 255 : 0] += times;
    }
    counts[0] += (film - beyond) * times;
    counts[255] += open * times;
  }
}

function tooBusy(): InputError {
  return new InputError({
    code: 'IMAGE_TOO_BUSY',
    message: 'the image has grey levels nearly everywhere, more than can be held in memory.',
    hint: 'Give a cleaner image (black and white, without noise), or a lower resolution.',
  });
}

/**
 * A coverage map of an image in memory.
 *
 * @param data - row by row from the top
 * @param coverage - of each value, 0 film to 255 open; the values themselves when left out
 */
export function coverageMapOf(
  width: number,
  height: number,
  data: Uint8Array,
  coverage?: ArrayLike<number>,
): CoverageMap {
  const builder = coverageBuilder(width, height, true);
  const row = new Uint8Array(Math.ceil(width / BLOCK) * BLOCK);
  for (let y = 0; y < height; y += 1) {
    row.set(data.subarray(y * width, (y + 1) * width));
    if (coverage) for (let x = 0; x < width; x += 1) row[x] = coverage[row[x]];
    builder.addGreyRow(row);
  }
  return builder.finish();
}
