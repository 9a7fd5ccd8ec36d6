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
    this.makeRoom(LONGEST_NUMBER);
    const { bytes } = this;
    let at = this.used;
    bytes[at++] = before.charCodeAt(0);
    const steps = Math.abs(Math.round(value * 1e5));
    if (value < 0 && steps > 0) bytes[at++] = MINUS;
    let whole = Math.floor(steps / 1e5);
    let rest = steps - 1e5 * whole;
    let place = 1;
    while (whole >= 10 * place) place *= 10;
    for (; place >= 1; place /= 10) {
      const digit = Math.floor(whole / place);
      bytes[at++] = ZERO + digit;
      whole -= digit * place;
    }
    if (rest > 0) bytes[at++] = POINT;
    for (let share = 1e4; rest > 0; share /= 10) {
      const digit = Math.floor(rest / share);
      bytes[at++] = ZERO + digit;
      rest -= digit * share;
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
/** A whole number of 10 nm that a double holds, with sign and point and what stands before. */
const LONGEST_NUMBER = 24;
const [MINUS, POINT, ZERO] = [45, 46, 48];
