import type { Rows } from '../../dots/rows.js';
import { dotsPerMetre } from './png.js';

const FILE_HEADER_BYTES = 14;
const INFO_HEADER_BYTES = 40;
const PALETTE_BYTES = 8;
const HEADER_BYTES = FILE_HEADER_BYTES + INFO_HEADER_BYTES + PALETTE_BYTES;

/**
 * A 1-bit BMP with its true resolution: 62 bytes of header (BITMAPFILEHEADER, BITMAPINFOHEADER, black, white), then
 * rows from the lower one, each filled up to four bytes.
 */
export function writeBmp({ width, height, rowBytes, pitch, fill }: Rows): Uint8Array {
  const stride = Math.ceil(rowBytes / 4) * 4;
  const bytes = new Uint8Array(HEADER_BYTES + stride * height);
  const view = new DataView(bytes.buffer);
  bytes.set([0x42, 0x4d]);
  view.setUint32(2, bytes.length, true);
  view.setUint32(10, HEADER_BYTES, true);
  view.setUint32(14, INFO_HEADER_BYTES, true);
  view.setInt32(18, width, true);
  view.setInt32(22, height, true);
  view.setUint16(26, 1, true);
  view.setUint16(28, 1, true);
  view.setUint32(34, stride * height, true);
  view.setInt32(38, dotsPerMetre(pitch.x), true);
  view.setInt32(42, dotsPerMetre(pitch.y), true);
  view.setUint32(46, 2, true);
  bytes.set([0xff, 0xff, 0xff, 0], FILE_HEADER_BYTES + INFO_HEADER_BYTES + 4);
  for (let row = 0; row < height; row += 1) {
    const start = HEADER_BYTES + (height - 1 - row) * stride;
    fill(row, bytes.subarray(start, start + rowBytes));
  }
  return bytes;
}
