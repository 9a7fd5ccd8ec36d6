import { inflateSync } from 'node:zlib';
import type { PDFDict, PDFObject, PDFRawStream } from 'pdf-lib';
import type { Affine } from '../../geometry/types.js';

export type PdfLib = typeof import('pdf-lib');

/** A content stream of a plotted layer is some MB; more than this is an attack or a mistake. */
const MAX_STREAM_BYTES = 256 * 2 ** 20;

/** A stream that can't be decoded here; the renderer may still know how. */
export class UndecodedStream extends Error {}

/** A stream that nobody can decode. */
export class DamagedStream extends Error {}

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

  /**
   * A stream's data with its filters undone.
   *
   * @throws {UndecodedStream} for picture filters, predictors, and streams too large
   */
  decode(object: PDFObject | undefined): Uint8Array | undefined {
    const { lib } = this;
    if (!(object instanceof lib.PDFStream)) return undefined;
    if (!(object instanceof lib.PDFRawStream)) return object.getContents();
    const filter = this.get(object.dict, 'Filter');
    const filters = filter === undefined ? [] : (this.array(filter)?.map((f) => this.name(f)) ?? [this.name(filter)]);
    const parameters = this.get(object.dict, 'DecodeParms');
    for (const each of this.array(parameters) ?? [parameters]) {
      if ((this.number(this.get(this.asDict(each), 'Predictor')) ?? 1) > 1) {
        throw new UndecodedStream('a predictor');
      }
    }
    if (filters.length === 0) return object.contents;
    if (filters.length === 1 && (filters[0] === 'FlateDecode' || filters[0] === 'Fl')) return inflate(object.contents);
    return this.decodeOther(object);
  }

  private decodeOther(stream: PDFRawStream): Uint8Array {
    if (stream.contents.length > MAX_STREAM_BYTES / 64) throw new UndecodedStream('a large stream');
    try {
      return this.lib.decodePDFRawStream(stream).decode();
    } catch (error) {
      throw new UndecodedStream(error instanceof Error ? error.message : 'an unknown filter');
    }
  }
}

/** Strict: of a damaged stream some openings would be lost without a word. */
function inflate(bytes: Uint8Array): Uint8Array {
  try {
    return inflateSync(bytes, { maxOutputLength: MAX_STREAM_BYTES });
  } catch (error) {
    throw new DamagedStream(error instanceof Error ? error.message : 'damage');
  }
}
