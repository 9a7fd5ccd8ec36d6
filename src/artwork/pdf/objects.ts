import type { PDFDict, PDFObject } from 'pdf-lib';
import type { Affine } from '../../geometry/types.js';
import { FILTER_NAMES, type Filter, undoFilters } from './filters.js';
import { UndecodedStream } from './stream-errors.js';

export type PdfLib = typeof import('pdf-lib');

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

  /** A stream's filters in the order in which they are undone. */
  filters(dict: PDFDict): Filter[] {
    const filter = this.get(dict, 'Filter');
    const parameters = this.get(dict, 'DecodeParms');
    const all = this.array(parameters) ?? [parameters];
    return (filter === undefined ? [] : (this.array(filter) ?? [filter])).map((each, i) => {
      const name = this.name(each) ?? '';
      const own = this.asDict(all[i]);
      const number = (key: string, otherwise: number): number => this.number(this.get(own, key)) ?? otherwise;
      return {
        name: FILTER_NAMES[name] ?? name,
        predictor: {
          kind: number('Predictor', 1),
          colours: number('Colors', 1),
          bits: number('BitsPerComponent', 8),
          columns: number('Columns', 1),
        },
        earlyChange: number('EarlyChange', 1) !== 0,
      };
    });
  }

  /**
   * A stream's data with its filters undone.
   *
   * @throws {UndecodedStream} for a picture's codings and unknown filters
   * @throws {DamagedStream} for data that make no sense
   */
  decode(object: PDFObject | undefined): Uint8Array | undefined {
    const { lib } = this;
    if (!(object instanceof lib.PDFStream)) return undefined;
    if (!(object instanceof lib.PDFRawStream)) return object.getContents();
    const { bytes, coding } = undoFilters(object.contents, this.filters(object.dict), MAX_STREAM_BYTES);
    if (coding !== undefined) throw new UndecodedStream(`the coding ${coding}`);
    return bytes;
  }
}
