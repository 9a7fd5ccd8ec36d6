import { constants, inflateSync } from 'node:zlib';
import type { PDFDict, PDFObject } from 'pdf-lib';
import type { Affine } from '../../geometry/types.js';
import { DamagedStream, UndecodedStream } from './stream-errors.js';

export type PdfLib = typeof import('pdf-lib');

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

/** Reads pdf-lib's objects without caring whether they are direct or referred to. */
export class Objects {
  constructor(readonly lib: PdfLib) {}

  get(dict: PDFDict | undefined, key: string): PDFObject | undefined {
    if (!dict) return undefined;
    const object = dict.lookup(this.lib.PDFName.of(key));
    return object instanceof this.lib.PDFRef || object === this.lib.PDFNull ? undefined : object;
  }

  dict(dict: PDFDict | undefined, key: string): PDFDict | undefined {
    return this.asDict(this.get(dict, key));
  }

  asDict(object: PDFObject | undefined): PDFDict | undefined {
    if (object instanceof this.lib.PDFDict) return object;
    return object instanceof this.lib.PDFStream ? object.dict : undefined;
  }

  array(object: PDFObject | undefined): PDFObject[] | undefined {
    if (!(object instanceof this.lib.PDFArray)) return undefined;
    const items: PDFObject[] = [];
    for (let i = 0; i < object.size(); i += 1) {
      items.push(object.lookup(i) ?? this.lib.PDFNull);
    }
    return items;
  }

  number(object: PDFObject | undefined): number | undefined {
    return object instanceof this.lib.PDFNumber ? object.asNumber() : undefined;
  }

  numbers(object: PDFObject | undefined, count?: number): number[] | undefined {
    const numbers = this.array(object)?.map((item) => this.number(item));
    if (!numbers || (count !== undefined && numbers.length !== count)) return undefined;
    return numbers.every((value) => value !== undefined && Number.isFinite(value)) ? (numbers as number[]) : undefined;
  }

  name(object: PDFObject | undefined): string | undefined {
    return object instanceof this.lib.PDFName ? object.decodeText() : undefined;
  }

  matrix(object: PDFObject | undefined): Affine | undefined {
    const n = this.numbers(object, 6);
    return n && { a: n[0], c: n[1], b: n[2], d: n[3], e: n[4], f: n[5] };
  }

  /** Names of a stream's filters, in the order in which they are undone. */
  filters(dict: PDFDict): string[] {
    const filter = this.get(dict, 'Filter');
    return (this.array(filter) ?? [filter]).flatMap((each) => {
      const name = this.name(each);
      return name === undefined ? [] : [FILTER_NAMES[name] ?? name];
    });
  }

  /**
   * A stream's data with its filters undone.
   *
   * @param most - more bytes than this are an attack or a mistake
   * @throws {UndecodedStream} for a picture's codings, rearranged rows and unknown filters
   * @throws {DamagedStream} for data that make no sense
   */
  decode(object: PDFObject | undefined, most = MAX_STREAM_BYTES): Uint8Array | undefined {
    const { lib } = this;
    if (!(object instanceof lib.PDFStream)) return undefined;
    if (!(object instanceof lib.PDFRawStream)) return object.getContents();
    const { dict } = object;
    const parameters = this.get(dict, 'DecodeParms');
    const all = this.array(parameters) ?? [parameters];
    let bytes = object.contents;
    for (const [i, name] of this.filters(dict).entries()) {
      const own = this.asDict(all[i]);
      if (!DECODED.has(name) || (this.number(this.get(own, 'Predictor')) ?? 1) > 1)
        throw new UndecodedStream(`the coding ${name}`);
      bytes = name === 'FlateDecode' ? inflated(bytes, most) : this.undone(bytes, name, own, most);
    }
    return bytes;
  }

  private undone(bytes: Uint8Array, name: string, parameters: PDFDict | undefined, most: number): Uint8Array {
    const { lib } = this;
    const dict = lib.PDFContext.create().obj({ Filter: name });
    if (parameters) dict.set(lib.PDFName.of('DecodeParms'), parameters);
    let out: Uint8Array;
    try {
      out = Uint8Array.from(lib.decodePDFRawStream(lib.PDFRawStream.of(dict, bytes)).getBytes(most + 1));
    } catch (error) {
      throw new DamagedStream(error instanceof Error ? error.message : 'damage');
    }
    if (out.length > most) throw new DamagedStream('its data grow without end');
    return out;
  }
}

const DECODED = new Set(['FlateDecode', 'LZWDecode', 'ASCII85Decode', 'ASCIIHexDecode', 'RunLengthDecode']);

/** Strict: of a damaged stream some openings would be lost without a word. */
function inflated(bytes: Uint8Array, most: number): Uint8Array {
  try {
    return inflateSync(bytes, { maxOutputLength: most, finishFlush: constants.Z_FINISH });
  } catch (error) {
    throw new DamagedStream(error instanceof Error ? error.message : 'damage');
  }
}
