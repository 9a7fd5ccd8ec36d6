import type { Rows } from '../../dots/rows.js';
import { crc32, deflateBlocks } from './deflate.js';

const SIGNATURE = Uint8Array.of(0x89, 0x50, 0x4e, 0x47, 0x0d, 0x0a, 0x1a, 0x0a);
const GREY = 0;
const METRE = 1;
const BLOCK_BYTES = 1 << 18;

/** Nearest whole number of dots per metre, as PNG and BMP store it. */
export const dotsPerMetre = (pitchMm: number): number => Math.round(1000 / pitchMm);

/**
 * A PNG of grey levels, or of black and white, with its true resolution.
 *
 * @remarks PNG specification (W3C, 2nd edition 2003): 11.2.2 IHDR, 11.3.5.3 pHYs, 11.3.4.3 tEXt; filter type 0.
 */
export async function writePng(rows: Rows, title: string | undefined): Promise<Uint8Array> {
  const { width, height, bitDepth, pitch } = rows;
  const ihdr = new Uint8Array(13);
  const view = new DataView(ihdr.buffer);
  view.setUint32(0, width);
  view.setUint32(4, height);
  ihdr.set([bitDepth, GREY, 0, 0, 0], 8);
  const phys = new Uint8Array(9);
  const physView = new DataView(phys.buffer);
  physView.setUint32(0, dotsPerMetre(pitch.x));
  physView.setUint32(4, dotsPerMetre(pitch.y));
  phys[8] = METRE;
  const chunks = [SIGNATURE, chunk('IHDR', ihdr), chunk('pHYs', phys)];
  if (title) chunks.push(chunk('tEXt', latin1(`Title\0${title}`)));
  const packed = await deflateBlocks(filteredRows(rows));
  for (const block of packed) chunks.push(chunk('IDAT', block));
  chunks.push(chunk('IEND', new Uint8Array(0)));
  return Buffer.concat(chunks);
}

function* filteredRows({ rowBytes, height, fill }: Rows): Generator<Uint8Array> {
  const stride = rowBytes + 1;
  const perBlock = Math.max(1, Math.floor(BLOCK_BYTES / stride));
  const block = new Uint8Array(perBlock * stride);
  for (let first = 0; first < height; first += perBlock) {
    const count = Math.min(perBlock, height - first);
    for (let r = 0; r < count; r += 1) {
      block[r * stride] = 0;
      fill(first + r, block.subarray(r * stride + 1, (r + 1) * stride));
    }
    yield block.subarray(0, count * stride);
  }
}

function latin1(text: string): Uint8Array {
  return Uint8Array.from(text, (c) => (c.charCodeAt(0) < 256 ? c.charCodeAt(0) : 63));
}

function chunk(type: string, data: Uint8Array): Uint8Array {
  const bytes = new Uint8Array(data.length + 12);
  const view = new DataView(bytes.buffer);
  view.setUint32(0, data.length);
  bytes.set(latin1(type), 4);
  bytes.set(data, 8);
  view.setUint32(8 + data.length, crc32(bytes.subarray(4, 8 + data.length)));
  return bytes;
}
