import { GrowingBytes } from './growing-bytes.js';
import { DamagedStream } from './stream-errors.js';

const CLEAR = 256;
const END = 257;
const MAX_CODES = 4096;

/**
 * Undoes LZW coding (ISO 32000-1, section 7.4.4; the variable-length codes of TIFF 6.0, section 13).
 *
 * @param earlyChange - codes grow one step before they have to
 * @throws {DamagedStream} for a code that was never defined, or more than `most` bytes
 */
export function fromLzw(packed: Uint8Array, earlyChange: boolean, most: number): Uint8Array {
  const out = new GrowingBytes(most);
  // Each sequence was written before: it is told by where, and how long it is.
  const starts = new Uint32Array(MAX_CODES);
  const lengths = new Uint16Array(MAX_CODES);
  const early = earlyChange ? 1 : 0;
  let next = END + 1;
  let width = 9;
  let held = 0;
  let bits = 0;
  let previousAt = -1;
  let previousLength = 0;
  for (let i = 0; ; ) {
    while (bits < width && i < packed.length) {
      held = ((held & 0xffff) << 8) | packed[i];
      i += 1;
      bits += 8;
    }
    if (bits < width) break;
    bits -= width;
    const code = (held >>> bits) & ((1 << width) - 1);
    if (code === END) break;
    if (code === CLEAR) {
      next = END + 1;
      width = 9;
      previousAt = -1;
      continue;
    }
    const isNew = code === next && previousAt >= 0;
    if (code > END && code >= next && !isNew) throw new DamagedStream('an undefined code');
    const length = code < CLEAR ? 1 : isNew ? previousLength + 1 : lengths[code];
    const room = out.room(length);
    const at = out.length;
    if (code < CLEAR) room[at] = code;
    else {
      // Byte by byte: a new sequence ends with its own first byte.
      const from = isNew ? previousAt : starts[code];
      for (let k = 0; k < length; k += 1) room[at + k] = room[from + k];
    }
    out.length += length;
    if (previousAt >= 0 && next < MAX_CODES) {
      // The sequence before and the first byte of this one, which follows it.
      starts[next] = previousAt;
      lengths[next] = previousLength + 1;
      next += 1;
      if (next + early >= 1 << width && width < 12) width += 1;
    }
    previousAt = at;
    previousLength = length;
  }
  return out.finish();
}
