import { deflateSync, crc32 as nodeCrc32 } from 'node:zlib';
import sharp, { type Sharp } from 'sharp';
import { crc32 } from '../../../src/export/formats/deflate.js';
import type { Ring } from '../../../src/geometry/types.js';
import { disc, greyImage, slanted } from './trace/raster.js';

export const WIDTH = 240;
export const HEIGHT = 120;

/** Three shapes of known area, pixels, in the order in which they are numbered. */
export const SHAPES: readonly Ring[] = [
  disc(40.3, 50.2, 15),
  slanted(110.4, 50.7, 44, 20, 0),
  slanted(185.3, 52.1, 50, 18, 24),
];
export const AREAS = [Math.PI * 225, 880, 900];

/** The shapes dark on light. */
export function brightness(film = 255, open = 0): Buffer {
  const { data } = greyImage(SHAPES, WIDTH, HEIGHT);
  return Buffer.from(data.map((v) => Math.round(film + ((open - film) * v) / 255)));
}

export function asSharp(data = brightness(), width = WIDTH, height = HEIGHT): Sharp {
  return sharp(data, { raw: { width, height, channels: 1 } }).toColourspace('b-w');
}

function chunk(type: string, data: Uint8Array): Buffer {
  const body = Buffer.concat([Buffer.from(type, 'latin1'), data]);
  const length = Buffer.alloc(4);
  length.writeUInt32BE(data.length);
  const check = Buffer.alloc(4);
  check.writeUInt32BE(nodeCrc32 ? nodeCrc32(body) : crc32(body));
  return Buffer.concat([length, body, check]);
}

export interface PngParts {
  readonly width: number;
  readonly height: number;
  readonly depth: number;
  readonly colour: number;
  /** Packed rows, one after the other, without filter bytes. */
  readonly rows: Uint8Array;
  readonly palette?: readonly number[];
  readonly transparency?: readonly number[];
  /** Pixels per unit X and Y, and the unit: 1 metre, 0 none. */
  readonly phys?: readonly [number, number, number];
}

/** A PNG made by hand, every row with filter `row number % 5`. */
export function handMadePng(parts: PngParts): Buffer {
  const { width, height, depth, colour, rows, palette, transparency, phys } = parts;
  const header = Buffer.alloc(13);
  header.writeUInt32BE(width);
  header.writeUInt32BE(height, 4);
  header.set([depth, colour, 0, 0, 0], 8);
  const stride = rows.length / height;
  const channels = [1, 0, 3, 1, 2, 0, 4][colour];
  const step = Math.max(1, (channels * depth) >> 3);
  const filtered = Buffer.alloc((stride + 1) * height);
  for (let y = 0; y < height; y += 1) {
    const type = y % 5;
    filtered[y * (stride + 1)] = type;
    for (let i = 0; i < stride; i += 1) {
      const at = (dx: number, dy: number): number => (i - dx < 0 || y - dy < 0 ? 0 : rows[(y - dy) * stride + i - dx]);
      const [a, b, c] = [at(step, 0), at(0, 1), at(step, 1)];
      const p = a + b - c;
      const [pa, pb, pc] = [Math.abs(p - a), Math.abs(p - b), Math.abs(p - c)];
      const paeth = pa <= pb && pa <= pc ? a : pb <= pc ? b : c;
      const guess = [0, a, b, (a + b) >> 1, paeth][type];
      filtered[y * (stride + 1) + 1 + i] = rows[y * stride + i] - guess;
    }
  }
  const chunks = [Buffer.from([0x89, 0x50, 0x4e, 0x47, 0x0d, 0x0a, 0x1a, 0x0a]), chunk('IHDR', header)];
  if (phys) {
    const body = Buffer.alloc(9);
    body.writeUInt32BE(phys[0]);
    body.writeUInt32BE(phys[1], 4);
    body[8] = phys[2];
    chunks.push(chunk('pHYs', body));
  }
  if (palette) chunks.push(chunk('PLTE', Uint8Array.from(palette)));
  if (transparency) chunks.push(chunk('tRNS', Uint8Array.from(transparency)));
  const packed = deflateSync(filtered);
  const half = packed.length >> 1;
  chunks.push(chunk('IDAT', packed.subarray(0, half)), chunk('IDAT', packed.subarray(half)));
  chunks.push(chunk('IEND', new Uint8Array(0)));
  return Buffer.concat(chunks);
}

/** Packs values of `bits` bits, most significant first, rows padded to `align` bytes. */
export function pack(values: Uint8Array, width: number, bits: number, align = 1): Uint8Array {
  const stride = Math.ceil(Math.ceil((width * bits) / 8) / align) * align;
  const height = values.length / width;
  const out = new Uint8Array(stride * height);
  for (let y = 0; y < height; y += 1)
    for (let x = 0; x < width; x += 1) {
      const bit = x * bits;
      out[y * stride + (bit >> 3)] |= values[y * width + x] << (8 - bits - (bit & 7));
    }
  return out;
}

export interface BmpParts {
  readonly width: number;
  readonly height: number;
  readonly bits: number;
  readonly compression?: number;
  readonly topDown?: boolean;
  /** Grey level of each colour. */
  readonly palette?: readonly number[];
  readonly perMetre?: readonly [number, number];
  /** Pixels as they stand in the file. */
  readonly pixels: Uint8Array;
}

export function handMadeBmp(parts: BmpParts): Buffer {
  const { width, height, bits, compression = 0, topDown = false, palette = [], perMetre = [0, 0], pixels } = parts;
  const offset = 54 + 4 * palette.length;
  const head = Buffer.alloc(offset);
  head.write('BM', 'latin1');
  head.writeUInt32LE(offset + pixels.length, 2);
  head.writeUInt32LE(offset, 10);
  head.writeUInt32LE(40, 14);
  head.writeInt32LE(width, 18);
  head.writeInt32LE(topDown ? -height : height, 22);
  head.writeUInt16LE(1, 26);
  head.writeUInt16LE(bits, 28);
  head.writeUInt32LE(compression, 30);
  head.writeInt32LE(perMetre[0], 38);
  head.writeInt32LE(perMetre[1], 42);
  head.writeUInt32LE(palette.length, 46);
  for (const [i, level] of palette.entries()) head.set([level, level, level, 0], 54 + 4 * i);
  return Buffer.concat([head, pixels]);
}

/** The rows in reverse order, as most BMP files hold them. */
export function upsideDown(rows: Uint8Array, height: number): Uint8Array {
  const stride = rows.length / height;
  const out = new Uint8Array(rows.length);
  for (let y = 0; y < height; y += 1) out.set(rows.subarray(y * stride, (y + 1) * stride), (height - 1 - y) * stride);
  return out;
}
