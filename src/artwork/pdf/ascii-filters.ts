import { GrowingBytes } from './growing-bytes.js';

/** ISO 32000-1, section 7.4.2: pairs of digits up to `>`; other characters are passed over. */
export function fromHex(text: Uint8Array): Uint8Array {
  const out = new Uint8Array((text.length + 1) >> 1);
  let digits = 0;
  for (const code of text) {
    if (code === 0x3e) break;
    const value = digitOf(code);
    if (value < 0) continue;
    out[digits >> 1] |= digits % 2 === 0 ? value << 4 : value;
    digits += 1;
  }
  return out.subarray(0, (digits + 1) >> 1);
}

function digitOf(code: number): number {
  if (code >= 0x30 && code <= 0x39) return code - 0x30;
  const lower = code | 0x20;
  return lower >= 0x61 && lower <= 0x66 ? lower - 0x57 : -1;
}

/** ISO 32000-1, section 7.4.3: five digits of base 85 are four bytes, `z` is four zeros; up to `~>`. */
export function fromAscii85(text: Uint8Array): Uint8Array {
  let zeros = 0;
  for (const code of text) if (code === 0x7a) zeros += 1;
  const out = new Uint8Array(4 * zeros + Math.ceil(0.8 * (text.length - zeros)) + 4);
  const view = new DataView(out.buffer);
  let length = 0;
  let count = 0;
  let word = 0;
  for (let i = text[0] === 0x3c && text[1] === 0x7e ? 2 : 0; i < text.length; i += 1) {
    const code = text[i];
    if (code === 0x7e) break;
    if (code === 0x7a && count === 0) length += 4;
    if (code < 0x21 || code > 0x75) continue;
    word = word * 85 + code - 0x21;
    count += 1;
    if (count === 5) {
      view.setUint32(length, word);
      length += 4;
      count = 0;
      word = 0;
    }
  }
  if (count > 1) {
    for (let k = count; k < 5; k += 1) word = word * 85 + 84;
    view.setUint32(length, word);
    length += count - 1;
  }
  return out.subarray(0, length);
}

/** ISO 32000-1, section 7.4.5. */
export function fromRunLengths(packed: Uint8Array, most: number): Uint8Array {
  const out = new GrowingBytes(most);
  for (let at = 0; at < packed.length && packed[at] !== 128; ) {
    const head = packed[at];
    const isRun = head > 128;
    const count = isRun ? 257 - head : Math.min(head + 1, packed.length - at - 1);
    if (at + 1 >= packed.length) break;
    const room = out.room(count);
    if (isRun) room.fill(packed[at + 1], out.length, out.length + count);
    else room.set(packed.subarray(at + 1, at + 1 + count), out.length);
    out.length += count;
    at += isRun ? 2 : 1 + count;
  }
  return out.finish();
}
