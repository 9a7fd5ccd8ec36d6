import { DamagedStream } from './stream-errors.js';

/** Bytes of a length that shows only at the end. */
export class GrowingBytes {
  private bytes = new Uint8Array(65_536);
  length = 0;

  /** @param most - more than this is refused */
  constructor(private readonly most: number) {}

  /**
   * Room for so many bytes more, to be written at `length`.
   *
   * @throws {DamagedStream} when that is more than allowed
   */
  room(count: number): Uint8Array {
    const needed = this.length + count;
    if (needed > this.most) throw new DamagedStream(`more than ${this.most} bytes`);
    if (needed > this.bytes.length) {
      const larger = new Uint8Array(Math.max(needed, 2 * this.bytes.length));
      larger.set(this.bytes.subarray(0, this.length));
      this.bytes = larger;
    }
    return this.bytes;
  }

  finish(): Uint8Array {
    return this.bytes.subarray(0, this.length);
  }
}
