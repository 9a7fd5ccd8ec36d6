import { constants, inflateSync } from 'node:zlib';
import {
  decodePDFRawStream,
  PDFArray,
  PDFContext,
  PDFDict,
  PDFName,
  PDFNull,
  PDFNumber,
  type PDFObject,
  PDFRawStream,
  PDFRef,
  PDFStream,
} from 'pdf-lib';
import type { Affine } from '../../geometry/types.js';
import { DamagedStream, UndecodedStream } from './lex.js';

// Reads a PDF library's objects without caring whether they are direct or referred to.

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

/** A content stream of a plotted layer is some MB; more than this is an attack or a mistake. */
const MAX_STREAM_BYTES = 256 * 2 ** 20;

export function get(dict: PDFDict | undefined, key: string): PDFObject | undefined {
  const object = dict?.lookup(PDFName.of(key));
  return object instanceof PDFRef || object === PDFNull ? undefined : object;
}

export function asDict(object: PDFObject | undefined): PDFDict | undefined {
  if (object instanceof PDFDict) return object;
  return object instanceof PDFStream ? object.dict : undefined;
}

export const dict = (parent: PDFDict | undefined, key: string): PDFDict | undefined => asDict(get(parent, key));

export function array(object: PDFObject | undefined): PDFObject[] | undefined {
  if (!(object instanceof PDFArray)) return undefined;
  return Array.from({ length: object.size() }, (_, i) => object.lookup(i) ?? PDFNull);
}

export const numberOf = (object: PDFObject | undefined): number | undefined =>
  object instanceof PDFNumber ? object.asNumber() : undefined;

export function numbers(object: PDFObject | undefined, count?: number): number[] | undefined {
  const values = array(object)?.map(numberOf);
  if (!values || (count !== undefined && values.length !== count)) return undefined;
  return values.every((value) => value !== undefined && Number.isFinite(value)) ? (values as number[]) : undefined;
}

export const name = (object: PDFObject | undefined): string | undefined =>
  object instanceof PDFName ? object.decodeText() : undefined;

export const matrixOf = (n: readonly number[]): Affine => ({ a: n[0], c: n[1], b: n[2], d: n[3], e: n[4], f: n[5] });

/** Names of a stream's filters, in the order in which they are undone. */
export function filters(of: PDFDict): string[] {
  const filter = get(of, 'Filter');
  return (array(filter) ?? [filter]).flatMap((each) => {
    const own = name(each);
    return own === undefined ? [] : [FILTER_NAMES[own] ?? own];
  });
}

/**
 * A stream's data with its filters undone.
 *
 * @param most - more bytes than this are an attack or a mistake
 * @throws {UndecodedStream} for a picture's codings, rearranged rows and unknown filters
 * @throws {DamagedStream} for data that make no sense
 */
export function decode(stream: PDFObject | undefined, most = MAX_STREAM_BYTES): Uint8Array | undefined {
  if (!(stream instanceof PDFRawStream)) return undefined;
  const parameters = get(stream.dict, 'DecodeParms');
  const all = array(parameters) ?? [parameters];
  let bytes = stream.contents;
  for (const [i, filter] of filters(stream.dict).entries()) {
    const own = asDict(all[i]);
    if (!DECODED.has(filter) || (numberOf(get(own, 'Predictor')) ?? 1) > 1)
      throw new UndecodedStream(`the coding ${filter}`);
    try {
      bytes = filter === 'FlateDecode' ? inflated(bytes, most) : undone(bytes, filter, own, most);
    } catch (error) {
      throw new DamagedStream(error instanceof Error ? error.message : 'damage');
    }
    if (bytes.length > most) throw new DamagedStream('its data grow without end');
  }
  return bytes;
}

function undone(bytes: Uint8Array, filter: string, parameters: PDFDict | undefined, most: number): Uint8Array {
  const own = PDFContext.create().obj({ Filter: filter });
  if (parameters) own.set(PDFName.of('DecodeParms'), parameters);
  return Uint8Array.from(decodePDFRawStream(PDFRawStream.of(own, bytes)).getBytes(most + 1));
}

const DECODED = new Set(['FlateDecode', 'LZWDecode', 'ASCII85Decode', 'ASCIIHexDecode', 'RunLengthDecode']);

/** Strict: of a damaged stream some openings would be lost without a word. */
const inflated = (bytes: Uint8Array, most: number): Uint8Array =>
  inflateSync(bytes, { maxOutputLength: most, finishFlush: constants.Z_FINISH });
