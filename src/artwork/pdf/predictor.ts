import { unfilter } from '../image/decode/unfilter.js';
import { DamagedStream, UndecodedStream } from './stream-errors.js';

/** How rows were made alike before they were packed (ISO 32000-1, table 8). */
export interface Predictor {
  /** 1 none, 2 TIFF, 10 and more PNG. */
  readonly kind: number;
  readonly colours: number;
  readonly bits: number;
  readonly columns: number;
}

/** Longer rows are a mistake. */
const MAX_ROW_BYTES = 2 ** 27;

/** Undoes what a predictor did (ISO 32000-1, section 7.4.4.4). An unfinished last row is undone as far as it goes. */
export function unpredict(bytes: Uint8Array, predictor: Predictor): Uint8Array {
  const { kind, colours, bits, columns } = predictor;
  if (kind === 1) return bytes;
  const rowBytes = Math.ceil((colours * bits * columns) / 8);
  const isSane = [colours, columns].every((n) => Number.isInteger(n) && n > 0) && [1, 2, 4, 8, 16].includes(bits);
  if (!isSane || rowBytes > MAX_ROW_BYTES || (kind !== 2 && kind < 10)) throw new UndecodedStream('a predictor');
  return kind === 2
    ? fromTiff(bytes, predictor, rowBytes)
    : fromPng(bytes, rowBytes, Math.max(1, (colours * bits) >> 3));
}

function fromPng(bytes: Uint8Array, rowBytes: number, step: number): Uint8Array {
  const rows = Math.ceil(bytes.length / (rowBytes + 1));
  const out = new Uint8Array(Math.max(0, bytes.length - rows));
  let prior = new Uint8Array(rowBytes);
  for (let y = 0; y < rows; y += 1) {
    const from = y * (rowBytes + 1);
    const row = out.subarray(y * rowBytes, (y + 1) * rowBytes);
    row.set(bytes.subarray(from + 1, from + 1 + row.length));
    if (!unfilter(bytes[from], row, prior, step)) throw new DamagedStream('an unknown row filter');
    prior = row;
  }
  return out;
}

/** Each sample is the difference from the same component to its left (TIFF 6.0, section 14). */
function fromTiff(bytes: Uint8Array, { colours, bits, columns }: Predictor, rowBytes: number): Uint8Array {
  const out = Uint8Array.from(bytes);
  for (let from = 0; from < out.length; from += rowBytes) {
    const row = out.subarray(from, from + rowBytes);
    if (bits === 8) for (let i = colours; i < row.length; i += 1) row[i] += row[i - colours];
    else if (bits === 16) addWords(row, 2 * colours);
    else addSmall(row, Math.min(colours * columns, Math.floor((row.length * 8) / bits)), colours, bits);
  }
  return out;
}

function addWords(row: Uint8Array, step: number): void {
  for (let i = step; i + 1 < row.length; i += 2) {
    const sum = (row[i] << 8) + row[i + 1] + (row[i - step] << 8) + row[i - step + 1];
    row[i] = (sum >> 8) & 255;
    row[i + 1] = sum & 255;
  }
}

function addSmall(row: Uint8Array, samples: number, colours: number, bits: number): void {
  const mask = (1 << bits) - 1;
  const left = new Uint8Array(colours);
  for (let i = 0; i < samples; i += 1) {
    const at = (i * bits) >> 3;
    const shift = 8 - bits - ((i * bits) & 7);
    const k = i % colours;
    left[k] = (left[k] + (row[at] >> shift)) & mask;
    row[at] = (row[at] & ~(mask << shift)) | (left[k] << shift);
  }
}
