/** A drawing of 64,000 openings has four million numbers: written as bytes they take a tenth of the time of strings. */
export class TextBytes {
  private bytes: Buffer;
  private used = 0;

  /** @param about - how many bytes it will be: what has to grow is copied */
  constructor(about: number) {
    this.bytes = Buffer.allocUnsafe(about);
  }

  add(text: string): void {
    this.makeRoom(BYTES_A_UNIT * text.length);
    this.used += this.bytes.write(text, this.used);
  }

  /** Adds one character of ASCII and what `shortMm` makes of a length. */
  addMm(before: string, value: number): void {
    const rounded = Math.round(value * 1e5);
    const steps = Math.abs(rounded);
    if (!(steps <= MOST_STEPS)) {
      this.add(before + shortMm(value));
      return;
    }
    this.makeRoom(LONGEST_NUMBER);
    const { bytes } = this;
    let at = this.used;
    bytes[at++] = before.charCodeAt(0);
    if (rounded < 0) bytes[at++] = MINUS;
    const whole = Math.floor(steps / 1e5);
    let rest = steps - 1e5 * whole;
    at = addDigits(bytes, at, whole, whole < 10 ? 1 : whole < 100 ? 2 : whole < 1000 ? 3 : whole < 10_000 ? 4 : 5);
    if (rest > 0) {
      let digits = 5;
      for (; rest % 10 === 0; rest /= 10) digits -= 1;
      bytes[at++] = POINT;
      at = addDigits(bytes, at, rest, digits);
    }
    this.used = at;
  }

  all(): Uint8Array {
    return this.bytes.subarray(0, this.used);
  }

  private makeRoom(more: number): void {
    if (this.used + more <= this.bytes.length) return;
    const larger = Buffer.allocUnsafe(Math.max(2 * this.bytes.length, this.used + more));
    this.bytes.copy(larger, 0, 0, this.used);
    this.bytes = larger;
  }
}

/** A unit of UTF-16 takes no more bytes of UTF-8. */
const BYTES_A_UNIT = 3;
/** Steps of 10 nm that fit into 32 bits, 21 m, are written as whole numbers; nothing else is as fast. */
const MOST_STEPS = 2 ** 31 - 1;
/** With sign and point and what stands before. */
const LONGEST_NUMBER = 13;
const [MINUS, POINT, ZERO] = [45, 46, 48];

/** Writes the last so many digits of a whole number, and returns where they end. */
function addDigits(bytes: Uint8Array, from: number, value: number, digits: number): number {
  let left = value | 0;
  for (let at = from + digits - 1; at >= from; at -= 1) {
    const tens = (left / 10) | 0;
    bytes[at] = ZERO + left - 10 * tens;
    left = tens;
  }
  return from + digits;
}

/** Millimetres with at most five digits after the point (10 nm), the shortest way. */
export function shortMm(value: number): string {
  const rounded = Math.round(value * 1e5) / 1e5;
  return rounded === 0 ? '0' : `${rounded}`;
}
