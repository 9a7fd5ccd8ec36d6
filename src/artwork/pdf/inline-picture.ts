import { type PDFContext, type PDFDict, PDFName, PDFNumber } from 'pdf-lib';
import { colourSpaceOf } from './colour-space.js';
import type { Operand } from './lex.js';
import * as objects from './objects.js';
import { bytesNeeded } from './picture-samples.js';

/** Short keys of inline pictures (ISO 32000-1, table 93; L is of ISO 32000-2). */
const KEYS: Readonly<Record<string, string>> = {
  BPC: 'BitsPerComponent',
  CS: 'ColorSpace',
  D: 'Decode',
  DP: 'DecodeParms',
  F: 'Filter',
  H: 'Height',
  IM: 'ImageMask',
  I: 'Interpolate',
  W: 'Width',
  L: 'Length',
};

/** What stands between `BI` and `ID`, by the long keys. */
export function inlineDict(context: PDFContext, operands: readonly Operand[]): PDFDict {
  const dict = context.obj({});
  for (let i = 0; i + 1 < operands.length; i += 2) {
    const [key, value] = [operands[i], operands[i + 1]];
    if (!(key instanceof PDFName)) continue;
    const short = key.decodeText();
    dict.set(PDFName.of(KEYS[short] ?? short), typeof value === 'number' ? PDFNumber.of(value) : value);
  }
  return dict;
}

/** Length of the data where nothing packs them, bytes; undefined where only the mark at their end tells. */
export function inlineLength(dict: PDFDict, resources: PDFDict | undefined): number | undefined {
  const length = objects.numberOf(objects.get(dict, 'Length'));
  if (length !== undefined && length > 0) return length;
  if (objects.filters(dict).length > 0) return undefined;
  return bytesNeeded(dict, colourSpaceOf(resources, objects.get(dict, 'ColorSpace')));
}
