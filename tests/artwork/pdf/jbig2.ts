/** ITU-T T.88, table E.1, from memory: probability, next state after the likelier and the other symbol, whether they swap. */
const STATES: readonly (readonly [number, number, number, number])[] = `
5601 1 1 1,3401 2 6 0,1801 3 9 0,0AC1 4 12 0,0521 5 29 0,0221 38 33 0,5601 7 6 1,5401 8 14 0,4801 9 14 0,3801 10 14 0,
3001 11 17 0,2401 12 18 0,1C01 13 20 0,1601 29 21 0,5601 15 14 1,5401 16 14 0,5101 17 15 0,4801 18 16 0,3801 19 17 0,
3401 20 18 0,3001 21 19 0,2801 22 19 0,2401 23 20 0,2201 24 21 0,1C01 25 22 0,1801 26 23 0,1601 27 24 0,1401 28 25 0,
1201 29 26 0,1101 30 27 0,0AC1 31 28 0,09C1 32 29 0,08A1 33 30 0,0521 34 31 0,0441 35 32 0,02A1 36 33 0,0221 37 34 0,
0141 38 35 0,0111 39 36 0,0085 40 37 0,0049 41 38 0,0025 42 39 0,0015 43 40 0,0009 44 41 0,0005 45 42 0,0001 45 43 0,
5601 46 46 0`
  .trim()
  .split(/,\s*/)
  .map((row) => {
    const [probability, likelier, other, swaps] = row.split(' ');
    return [Number.parseInt(probability, 16), Number(likelier), Number(other), Number(swaps)] as const;
  });

/** The arithmetic coder of annex E, figures E.3 to E.12. */
class Coder {
  private readonly states = new Uint8Array(65_536);
  private readonly likelier = new Uint8Array(65_536);
  private readonly out: number[] = [0];
  private a = 0x8000;
  private c = 0;
  private free = 12;

  put(bit: number, context: number): void {
    const [probability, afterLikelier, afterOther, swaps] = STATES[this.states[context]];
    this.a -= probability;
    if (bit === this.likelier[context]) {
      if (this.a & 0x8000) {
        this.c += probability;
        return;
      }
      if (this.a < probability) this.a = probability;
      else this.c += probability;
      this.states[context] = afterLikelier;
    } else {
      if (this.a < probability) this.c += probability;
      else this.a = probability;
      if (swaps) this.likelier[context] ^= 1;
      this.states[context] = afterOther;
    }
    do {
      this.a <<= 1;
      this.c *= 2;
      this.free -= 1;
      if (this.free === 0) this.byteOut();
    } while ((this.a & 0x8000) === 0);
  }

  private byteOut(): void {
    const last = this.out.length - 1;
    if (this.out[last] !== 0xff && this.c >= 0x8000000) {
      this.out[last] += 1;
      this.c -= 0x8000000;
    }
    const shift = this.out[last] === 0xff ? 20 : 19;
    this.out.push(Math.floor(this.c / 2 ** shift) & 0xff);
    this.c %= 2 ** shift;
    this.free = shift === 20 ? 7 : 8;
  }

  finish(): Uint8Array {
    const top = this.c + this.a;
    this.c = Math.floor(this.c / 65_536) * 65_536 + 0xffff;
    if (this.c >= top) this.c -= 0x8000;
    for (let k = 0; k < 2; k += 1) {
      this.c *= 2 ** this.free;
      this.byteOut();
    }
    return Uint8Array.from([...this.out.slice(1), 0xff, 0xac]);
  }
}

/** The pixels that a pixel is guessed from: template 0 with its adaptive pixels in their usual places (figure 3). */
const NEAR: readonly (readonly [number, number])[] = [
  ...[-2, -1, 0, 1, 2].map((x) => [x, -2] as const),
  ...[-3, -2, -1, 0, 1, 2, 3].map((x) => [x, -1] as const),
  ...[-4, -3, -2, -1].map((x) => [x, 0] as const),
];

/** JBIG2 data (ITU-T T.88), as a PDF holds them, of a page with one generic region. */
export function toJbig2(grey: Uint8Array, width: number, height: number): Uint8Array {
  const isDark = (x: number, y: number): number => (x >= 0 && x < width && y >= 0 && grey[y * width + x] < 128 ? 1 : 0);
  const coder = new Coder();
  for (let y = 0; y < height; y += 1) {
    for (let x = 0; x < width; x += 1) {
      const context = NEAR.reduce((sum, [dx, dy]) => 2 * sum + isDark(x + dx, y + dy), 0);
      coder.put(isDark(x, y), context);
    }
  }
  const size = Buffer.alloc(8);
  size.writeUInt32BE(width);
  size.writeUInt32BE(height, 4);
  const segment = (number: number, type: number, data: Uint8Array): Buffer => {
    const head = Buffer.alloc(11);
    head.writeUInt32BE(number);
    head[4] = type;
    head[6] = 1;
    head.writeUInt32BE(data.length, 7);
    return Buffer.concat([head, data]);
  };
  const page = Buffer.concat([size, Buffer.alloc(11)]);
  const adaptive = Buffer.from(Int8Array.of(3, -1, -3, -1, 2, -2, -2, -2).buffer);
  const region = Buffer.concat([size, Buffer.alloc(10), adaptive, coder.finish()]);
  return Buffer.concat([segment(0, 48, page), segment(1, 38, region)]);
}
