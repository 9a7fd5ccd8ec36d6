import { constants, inflateSync } from 'node:zlib';
import { fromAscii85, fromHex, fromRunLengths } from './ascii-filters.js';
import { fromLzw } from './lzw.js';
import { type Predictor, unpredict } from './predictor.js';
import { DamagedStream, UndecodedStream } from './stream-errors.js';

/** One filter of a stream, in the order in which they are undone. */
export interface Filter {
  readonly name: string;
  readonly predictor: Predictor;
  /** Of LZW: whether codes grow one step early. */
  readonly earlyChange: boolean;
}

export interface Unfiltered {
  readonly bytes: Uint8Array;
  /** The picture's own coding, which is left: DCTDecode, CCITTFaxDecode, JPXDecode or JBIG2Decode. */
  readonly coding?: string;
}

/** Short names (ISO 32000-1, tables 6 and 94) and what they stand for. */
export const FILTER_NAMES: Readonly<Record<string, string>> = {
  AHx: 'ASCIIHexDecode',
  A85: 'ASCII85Decode',
  LZW: 'LZWDecode',
  Fl: 'FlateDecode',
  RL: 'RunLengthDecode',
  CCF: 'CCITTFaxDecode',
  DCT: 'DCTDecode',
};

const PICTURE_CODINGS = new Set(['DCTDecode', 'CCITTFaxDecode', 'JPXDecode', 'JBIG2Decode']);

/**
 * Undoes a stream's filters, up to a picture's own coding (ISO 32000-1, section 7.4).
 *
 * @param most - more bytes than this are an attack or a mistake
 * @param mayLackEnd - the caller counts the bytes itself
 * @throws {UndecodedStream} for filters that are unknown or out of place
 * @throws {DamagedStream} where the data end early or make no sense
 */
export function undoFilters(
  packed: Uint8Array,
  filters: readonly Filter[],
  most: number,
  mayLackEnd = false,
): Unfiltered {
  let bytes = packed;
  for (const [i, { name, predictor, earlyChange }] of filters.entries()) {
    if (PICTURE_CODINGS.has(name) && i === filters.length - 1) return { bytes, coding: name };
    switch (name) {
      case 'FlateDecode':
        bytes = unpredict(inflate(bytes, most, mayLackEnd), predictor);
        break;
      case 'LZWDecode':
        bytes = unpredict(fromLzw(bytes, earlyChange, most), predictor);
        break;
      case 'ASCII85Decode':
        bytes = fromAscii85(bytes);
        break;
      case 'ASCIIHexDecode':
        bytes = fromHex(bytes);
        break;
      case 'RunLengthDecode':
        bytes = fromRunLengths(bytes, most);
        break;
      default:
        throw new UndecodedStream(`the filter ${name}`);
    }
  }
  return { bytes };
}

/** Strict: of a damaged stream some openings would be lost without a word. */
function inflate(bytes: Uint8Array, most: number, mayLackEnd: boolean): Uint8Array {
  const finishFlush = mayLackEnd ? constants.Z_SYNC_FLUSH : constants.Z_FINISH;
  try {
    return inflateSync(bytes, { maxOutputLength: most, finishFlush });
  } catch (error) {
    throw new DamagedStream(error instanceof Error ? error.message : 'damage');
  }
}
