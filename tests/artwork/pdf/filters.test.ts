import { deflateSync } from 'node:zlib';
import fc from 'fast-check';
import * as lib from 'pdf-lib';
import { describe, expect, it } from 'vitest';
import { DamagedStream } from '../../../src/artwork/pdf/lex.js';
import { decode } from '../../../src/artwork/pdf/objects.js';
import { readPdf } from '../../../src/artwork/pdf/read-pdf.js';
import { openingArea } from '../../../src/geometry/area.js';
import { makePdf } from './make-pdf.js';
import { toAscii85, toHex, toLzw, toRunLengths } from './pack.js';

const PACKERS = {
  FlateDecode: (bytes: Uint8Array): Uint8Array => deflateSync(bytes),
  LZWDecode: toLzw,
  ASCII85Decode: toAscii85,
  ASCIIHexDecode: toHex,
  RunLengthDecode: toRunLengths,
};
type Name = keyof typeof PACKERS;
const NAMES = Object.keys(PACKERS) as Name[];

/** A page whose shapes stand in one more content stream, packed by filters that are undone in the order given. */
function packedPage(
  content: string,
  chain: readonly string[],
  packed = Buffer.from(content, 'latin1'),
): Promise<Uint8Array> {
  const bytes = chain.reduceRight<Uint8Array>((data, name) => PACKERS[name as Name]?.(data) ?? data, packed);
  return makePdf('', (page, { context }) => {
    page.node.addContentStream(context.register(context.stream(bytes, { Filter: [...chain] })));
  });
}
/** Points, since it stands outside the part whose unit is 1 mm. */
const SQUARES = Array.from({ length: 40 }, (_, i) => `${3 * i} ${i} 2 1.5 re f`).join('\n');
const MM2 = 40 * 3 * (25.4 / 72) ** 2;

describe('the filters of a page’s content (ISO 32000-1, section 7.4)', () => {
  it('in any chain give the same shapes', async () => {
    await fc.assert(
      fc.asyncProperty(fc.array(fc.constantFrom(...NAMES), { maxLength: 4 }), async (chain) => {
        const { openings } = await readPdf(await packedPage(SQUARES, chain), {});
        expect(openings).toHaveLength(40);
        expect(openings.reduce((sum, each) => sum + openingArea(each), 0)).toBeCloseTo(MM2, 6);
      }),
      { numRuns: 12 },
    );
  });

  it('that are cut, or grow without end, are refused', async () => {
    const cut = deflateSync(Buffer.from(SQUARES.repeat(50))).subarray(0, 300);
    const page = await makePdf('', ({ node }, { context }) => {
      node.addContentStream(context.register(context.stream(cut, { Filter: 'FlateDecode' })));
    });
    await expect(readPdf(page, {})).rejects.toMatchObject({ code: 'PDF_BROKEN' });
    const { context } = await lib.PDFDocument.create();
    for (const name of ['FlateDecode', 'LZWDecode', 'RunLengthDecode'] as const) {
      const bomb = context.stream(PACKERS[name](new Uint8Array(2 ** 20)), { Filter: name });
      expect(decode(bomb, 2 ** 20)).toHaveLength(2 ** 20);
      expect(() => decode(bomb, 2 ** 20 - 1)).toThrow(DamagedStream);
    }
  });

  it('that are unknown leave the page to the renderer', async () => {
    const page = await packedPage(SQUARES, ['Odd']);
    const { code } = await readPdf(page, {}).then(
      ({ warnings }) => warnings.find((each) => each.code === 'PDF_RENDERED') ?? { code: 'none' },
      (error: { code: string }) => error,
    );
    expect(['PDF_RENDERED', 'NOTHING_DRAWN']).toContain(code);
  });
});
