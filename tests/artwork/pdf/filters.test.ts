import { deflateSync } from 'node:zlib';
import fc from 'fast-check';
import { decodePDFRawStream, PDFDocument, PDFName, PDFRawStream } from 'pdf-lib';
import sharp from 'sharp';
import { describe, expect, it } from 'vitest';
import { fromAscii85, fromHex, fromRunLengths } from '../../../src/artwork/pdf/ascii-filters.js';
import { type Filter, undoFilters } from '../../../src/artwork/pdf/filters.js';
import { fromLzw } from '../../../src/artwork/pdf/lzw.js';
import { unpredict } from '../../../src/artwork/pdf/predictor.js';
import { DamagedStream, UndecodedStream } from '../../../src/artwork/pdf/stream-errors.js';
import { toAscii85, toHex, toLzw, toRunLengths } from './pack.js';

const text = (string: string): Uint8Array => Buffer.from(string, 'latin1');
const NONE = { kind: 1, colours: 1, bits: 8, columns: 1 };
const filter = (name: string, predictor = NONE): Filter => ({ name, predictor, earlyChange: true });
const MOST = 2 ** 22;
/** Long and repetitive enough for all lengths of codes. */
const long = Uint8Array.from({ length: 300_000 }, (_, i) => (i * i) >> (i % 7));

describe('filters', () => {
  it('published examples', () => {
    // ISO 32000-1, section 7.4.4.2, example 1.
    const packed = Uint8Array.of(0x80, 0x0b, 0x60, 0x50, 0x22, 0x0c, 0x0c, 0x85, 0x01);
    expect([...fromLzw(packed, true, MOST)]).toEqual([45, 45, 45, 45, 45, 65, 45, 45, 45, 66]);
    expect([...fromHex(text('4E6f 7>xx'))]).toEqual([0x4e, 0x6f, 0x70]);
    // As Python's base64.a85encode writes them.
    expect(Buffer.from(fromAscii85(text('87cUR\nD]i,"Ebo80~>'))).toString()).toBe('Hello World!');
    expect([...fromAscii85(text('z5sb~>'))]).toEqual([0, 0, 0, 0, 0x41, 0x42]);
    expect([...fromRunLengths(Uint8Array.of(2, 7, 8, 9, 254, 5, 128, 1), MOST)]).toEqual([7, 8, 9, 5, 5, 5]);
  });

  it('as pdf-lib, which has decoders of its own, reads them', async () => {
    const { context } = await PDFDocument.create();
    for (const [name, packed] of [
      ['LZWDecode', toLzw(long)],
      ['ASCII85Decode', toAscii85(long)],
      ['ASCIIHexDecode', toHex(long)],
      ['RunLengthDecode', toRunLengths(long)],
    ] as const) {
      const dict = context.obj({ Filter: PDFName.of(name) });
      const theirs = decodePDFRawStream(PDFRawStream.of(dict, packed)).decode();
      const { bytes } = undoFilters(packed, [filter(name)], MOST);
      expect(Buffer.compare(bytes, theirs)).toBe(0);
      expect(Buffer.compare(bytes, long)).toBe(0);
    }
  });

  it('any bytes come back from any chain', () => {
    const packers = {
      FlateDecode: (bytes: Uint8Array) => deflateSync(bytes),
      LZWDecode: toLzw,
      ASCII85Decode: toAscii85,
      ASCIIHexDecode: toHex,
      RunLengthDecode: toRunLengths,
    };
    const names = Object.keys(packers) as (keyof typeof packers)[];
    fc.assert(
      fc.property(
        fc.uint8Array({ maxLength: 400 }),
        fc.array(fc.constantFrom(...names), { maxLength: 4 }),
        (data, chain) => {
          const packed = chain.reduceRight<Uint8Array>((bytes, name) => packers[name](bytes), data);
          const { bytes } = undoFilters(
            packed,
            chain.map((name) => filter(name)),
            MOST,
          );
          expect([...bytes]).toEqual([...data]);
        },
      ),
      { numRuns: 200 },
    );
  });

  it('stops before a picture’s own coding', () => {
    const { bytes, coding } = undoFilters(text('414243>'), [filter('ASCIIHexDecode'), filter('DCTDecode')], MOST);
    expect([Buffer.from(bytes).toString(), coding]).toEqual(['ABC', 'DCTDecode']);
  });

  it.each<[string, Uint8Array, Filter[], typeof DamagedStream | typeof UndecodedStream]>([
    ['an unknown filter', text('a'), [filter('Odd')], UndecodedStream],
    ['a picture before another filter', text('a'), [filter('DCTDecode'), filter('FlateDecode')], UndecodedStream],
    ['cut data', deflateSync(long).subarray(0, 500), [filter('FlateDecode')], DamagedStream],
    ['a code that was never defined', Uint8Array.of(0x80, 0x7f, 0xff), [filter('LZWDecode')], DamagedStream],
    ['more than is allowed', toLzw(new Uint8Array(MOST + 1)), [filter('LZWDecode')], DamagedStream],
    [
      'runs of more than is allowed',
      toRunLengths(new Uint8Array(MOST + 1)),
      [filter('RunLengthDecode')],
      DamagedStream,
    ],
    [
      'a predictor of no columns',
      deflateSync(long),
      [filter('FlateDecode', { ...NONE, kind: 15, columns: 0 })],
      UndecodedStream,
    ],
  ])('%s is told of', (_, bytes, chain, error) => {
    expect(() => undoFilters(bytes, chain, MOST)).toThrow(error);
  });
});

describe('predictors', () => {
  it('TIFF differences of each depth, worked by hand', () => {
    const of = (bits: number, colours: number, columns: number, bytes: number[]): number[] => [
      ...unpredict(Uint8Array.from(bytes), { kind: 2, bits, colours, columns }),
    ];
    expect(of(8, 1, 3, [10, 1, 255, 7, 0, 1])).toEqual([10, 11, 10, 7, 7, 8]);
    expect(of(8, 3, 2, [1, 2, 3, 1, 1, 1])).toEqual([1, 2, 3, 2, 3, 4]);
    expect(of(16, 1, 2, [0x01, 0xff, 0x00, 0x01])).toEqual([0x01, 0xff, 0x02, 0x00]);
    // 1 0 1 0 0 0 0 1 -> 1 1 0 0 0 0 0 1
    expect(of(1, 1, 8, [0b10100001])).toEqual([0b11000001]);
    expect(of(4, 1, 4, [0x1f, 0x21])).toEqual([0x10, 0x23]);
    expect(of(2, 2, 2, [0b01_10_11_01])).toEqual([0b01_10_00_11]);
  });

  it('rows that an independent encoder filtered come back', async () => {
    const raw = Buffer.from(long.subarray(0, 90 * 100));
    const png = await sharp(raw, { raw: { width: 30, height: 100, channels: 3 } })
      .png({ adaptiveFiltering: true })
      .toBuffer();
    const parts: Buffer[] = [];
    for (let at = 8; at < png.length; at += 12 + png.readUInt32BE(at)) {
      if (png.toString('latin1', at + 4, at + 8) === 'IDAT')
        parts.push(png.subarray(at + 8, at + 8 + png.readUInt32BE(at)));
    }
    const predictor = { kind: 15, colours: 3, bits: 8, columns: 30 };
    const { bytes } = undoFilters(Buffer.concat(parts), [filter('FlateDecode', predictor)], MOST);
    expect(Buffer.compare(bytes, raw)).toBe(0);
  });
});
