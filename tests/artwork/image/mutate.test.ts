import { describe, expect, it } from 'vitest';
import { readImage } from '../../../src/artwork/image/read-image.js';
import { InputError } from '../../../src/errors.js';
import { crc32 } from '../../../src/export/formats/deflate.js';
import { cases } from '../../cases.js';
import { seeded } from '../../virtual-laser/random.js';
import { handMadeBmp, handMadePng, pack, upsideDown } from './pictures.js';
import { bitImage, disc, greyImage, slanted } from './trace/raster.js';

const SIZE = 48;
const COUNT = cases(60);
const RINGS = [disc(14, 15, 8), slanted(34, 30, 16, 9, 20)];

function pngs(): Buffer[] {
  const dark = greyImage(RINGS, SIZE, SIZE).data.map((v) => 255 - v);
  const bits = bitImage(RINGS, SIZE, SIZE).data.map((v) => (v > 0 ? 0 : 1));
  const base = { width: SIZE, height: SIZE, phys: [10_000, 10_000, 1] as const };
  const colour = new Uint8Array(dark.length * 4);
  for (const [i, v] of dark.entries()) colour.set([v, v, v, 255], 4 * i);
  return [
    handMadePng({ ...base, depth: 8, colour: 0, rows: dark }),
    handMadePng({ ...base, depth: 1, colour: 0, rows: pack(bits, SIZE, 1) }),
    handMadePng({ ...base, depth: 8, colour: 6, rows: colour }),
    handMadePng({ ...base, depth: 1, colour: 3, palette: [0, 0, 0, 255, 255, 255], rows: pack(bits, SIZE, 1) }),
  ];
}

function bmps(): Buffer[] {
  const dark = greyImage(RINGS, SIZE, SIZE).data.map((v) => 255 - v);
  const ramp = Array.from({ length: 256 }, (_, i) => i);
  const base = { width: SIZE, height: SIZE, perMetre: [10_000, 10_000] as const };
  const runs: number[] = [];
  for (let y = SIZE - 1; y >= 0; y -= 1) {
    for (let x = 0; x < SIZE; x += 1) runs.push(1, dark[y * SIZE + x]);
    runs.push(0, 0);
  }
  runs.push(0, 1);
  return [
    handMadeBmp({ ...base, bits: 8, palette: ramp, pixels: upsideDown(dark, SIZE) }),
    handMadeBmp({ ...base, bits: 8, compression: 1, palette: ramp, pixels: Uint8Array.from(runs) }),
    handMadeBmp({
      ...base,
      bits: 1,
      palette: [255, 0],
      pixels: pack(
        dark.map((v) => v >> 7),
        SIZE,
        1,
        4,
      ),
    }),
  ];
}

/** Changes bytes, cuts, repeats or drops pieces. */
function mutated(bytes: Buffer, random: () => number): Buffer {
  const at = (): number => Math.floor(random() * bytes.length);
  const kind = random();
  if (kind < 0.15) return bytes.subarray(0, at());
  if (kind < 0.25) return Buffer.concat([bytes.subarray(0, at()), bytes.subarray(at())]);
  const out = Buffer.from(bytes);
  // Headers matter most.
  for (let n = 1 + Math.floor(random() * 4); n > 0; n -= 1)
    out[random() < 0.6 ? Math.floor(random() * Math.min(64, out.length)) : at()] = Math.floor(random() * 256);
  return out;
}

/** Puts right checksums into a PNG, so that what lies behind them is reached. */
function withChecksums(bytes: Buffer): Buffer {
  for (let i = 8; i + 12 <= bytes.length; ) {
    const length = bytes.readUInt32BE(i);
    if (i + 12 + length > bytes.length) break;
    bytes.writeUInt32BE(crc32(bytes.subarray(i + 4, i + 8 + length)), i + 8 + length);
    i += 12 + length;
  }
  return bytes;
}

async function survives(bytes: Buffer, format: 'png' | 'bmp'): Promise<boolean> {
  try {
    const { openings } = await readImage(bytes, format, {});
    expect(openings.length).toBeGreaterThan(0);
    for (const { outer } of openings) for (const [x, y] of outer) expect(Number.isFinite(x + y)).toBe(true);
    return true;
  } catch (error) {
    if (!(error instanceof InputError)) throw error;
    return false;
  }
}

describe('files changed at random: openings or an InputError, nothing else', () => {
  it.each([
    ['png', 'as they are'],
    ['png', 'with right checksums'],
    ['bmp', 'as they are'],
  ] as const)('%s, %s', async (format, how) => {
    const random = seeded(how.length + format.length * 100);
    let read = 0;
    for (const original of format === 'png' ? pngs() : bmps()) {
      for (let n = 0; n < COUNT; n += 1) {
        const bytes = mutated(original, random);
        if (await survives(how === 'as they are' ? bytes : withChecksums(bytes), format)) read += 1;
      }
    }
    if (how !== 'as they are' || format === 'bmp') expect(read).toBeGreaterThan(0.2 * COUNT);
  });
});
