import type { Rows } from '../../dots/rows.js';
import {
  BLACK_MAKE_UP,
  BLACK_RUNS,
  END_OF_BLOCK,
  HORIZONTAL,
  LONG_MAKE_UP,
  PASS,
  VERTICAL,
  WHITE,
  WHITE_MAKE_UP,
} from './g4-codes.js';

/** Codes one image without loss after ITU-T T.6 (group 4): each row by how it differs from the one above; 1 is black. */
export function encodeG4(rows: Rows): Uint8Array {
  const bits = new BitWriter();
  let above: number[] = [];
  for (let index = 0; index < rows.height; index += 1) {
    const row = rows.row(index);
    const changes = row ? changesOf(row, rows.width) : [];
    encodeRow(bits, changes, above, rows.width);
    above = changes;
  }
  bits.put(END_OF_BLOCK);
  return bits.done();
}

/** Columns at which the colour changes, starting from white; whole bytes of one colour are passed over. */
function changesOf(row: Uint8Array, width: number): number[] {
  const changes: number[] = [];
  let colour = 0;
  for (let i = 0; i < row.length; i += 1) {
    const byte = row[i];
    if (byte === (colour ? 0xff : 0)) continue;
    const end = Math.min(8, width - i * 8);
    for (let k = 0; k < end; k += 1) {
      const bit = (byte >> (7 - k)) & 1;
      if (bit === colour) continue;
      changes.push(i * 8 + k);
      colour = bit;
    }
  }
  return changes;
}

/** T.6, 2.2.5: a0 is where coding stands, a1 and a2 the next changes of this row, b1 and b2 those above. */
function encodeRow(bits: BitWriter, changes: readonly number[], above: readonly number[], width: number): void {
  let a0 = -1;
  let next = 0;
  let b = 0;
  while (a0 < width) {
    const black = next % 2 === 1;
    const a1 = changes[next] ?? width;
    // b1: the first change above to the right of a0 that is towards the other colour than a0's.
    while (b > 0 && above[b - 1] > a0) b -= 1;
    while (b < above.length && (above[b] <= a0 || (b % 2 === 1) !== black)) b += 1;
    const b1 = above[b] ?? width;
    const b2 = above[b + 1] ?? width;
    if (b2 < a1) {
      bits.put(PASS);
      a0 = b2;
    } else if (Math.abs(a1 - b1) <= 3) {
      bits.put(VERTICAL[a1 - b1 + 3]);
      a0 = a1;
      next += 1;
    } else {
      const a2 = changes[next + 1] ?? width;
      bits.put(HORIZONTAL);
      putRun(bits, a1 - Math.max(a0, 0), black);
      putRun(bits, a2 - a1, !black);
      a0 = a2;
      next += 2;
    }
  }
}

function putRun(bits: BitWriter, length: number, black: boolean): void {
  let left = length;
  while (left >= 2560) {
    bits.put(LONG_MAKE_UP[12]);
    left -= 2560;
  }
  if (left >= 1792) bits.put(LONG_MAKE_UP[(left - 1792) >> 6]);
  else if (left >= 64) bits.put((black ? BLACK_MAKE_UP : WHITE_MAKE_UP)[(left >> 6) - 1]);
  bits.put((black ? BLACK_RUNS : WHITE)[left & 63]);
}

class BitWriter {
  private bytes = new Uint8Array(1 << 16);
  private length = 0;
  private pending = 0;
  private pendingBits = 0;

  put(code: string): void {
    for (let i = 0; i < code.length; i += 1) {
      this.pending = (this.pending << 1) | (code.charCodeAt(i) & 1);
      this.pendingBits += 1;
      if (this.pendingBits === 8) this.flush();
    }
  }

  done(): Uint8Array {
    while (this.pendingBits > 0) this.put('0');
    return this.bytes.slice(0, this.length);
  }

  private flush(): void {
    if (this.length === this.bytes.length) {
      const larger = new Uint8Array(this.bytes.length * 2);
      larger.set(this.bytes);
      this.bytes = larger;
    }
    this.bytes[this.length] = this.pending;
    this.length += 1;
    this.pending = 0;
    this.pendingBits = 0;
  }
}
