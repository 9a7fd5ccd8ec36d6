import type { PDFContext, PDFObject, PDFRawStream } from 'pdf-lib';
import { isName, type Operand } from './lex.js';
import { FILTER_NAMES, type PdfLib } from './objects.js';

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

const SPACES: Readonly<Record<string, string>> = {
  G: 'DeviceGray',
  RGB: 'DeviceRGB',
  CMYK: 'DeviceCMYK',
  I: 'Indexed',
};

/** What stands between `BI` and `ID`, by the long names. */
export type InlineEntries = ReadonlyMap<string, Operand>;

export function inlineEntries(operands: readonly Operand[]): InlineEntries {
  const entries = new Map<string, Operand>();
  for (let i = 0; i + 1 < operands.length; i += 2) {
    const key = operands[i];
    if (!isName(key)) continue;
    const long = KEYS[key.name] ?? key.name;
    const names = long === 'ColorSpace' ? SPACES : long === 'Filter' ? FILTER_NAMES : undefined;
    entries.set(long, names ? withLongNames(operands[i + 1], names) : operands[i + 1]);
  }
  return entries;
}

function withLongNames(value: Operand, names: Readonly<Record<string, string>>): Operand {
  if (isName(value)) return { name: names[value.name] ?? value.name };
  return Array.isArray(value) ? value.map((each: Operand) => withLongNames(each, names)) : value;
}

/** Length of the data where nothing packs them, bytes; undefined where only the mark at their end tells. */
export function inlineLength(entries: InlineEntries): number | undefined {
  const number = (key: string): number | undefined => {
    const value = entries.get(key);
    return typeof value === 'number' && Number.isInteger(value) && value > 0 ? value : undefined;
  };
  const length = number('Length');
  if (length !== undefined) return length;
  const filter = entries.get('Filter');
  if (filter !== undefined && !(Array.isArray(filter) && filter.length === 0)) return undefined;
  const [width, height] = [number('Width'), number('Height')];
  const space = entries.get('ColorSpace');
  const family = isName(space) ? space.name : Array.isArray(space) && isName(space[0]) ? space[0].name : undefined;
  const isMask = entries.get('ImageMask') === true;
  const components = isMask ? 1 : COMPONENTS[family ?? ''];
  const bits = isMask ? 1 : number('BitsPerComponent');
  if (!width || !height || !components || !bits) return undefined;
  return Math.ceil((width * components * bits) / 8) * height;
}

const COMPONENTS: Readonly<Record<string, number>> = {
  DeviceGray: 1,
  Indexed: 1,
  DeviceRGB: 3,
  DeviceCMYK: 4,
};

/** An inline picture as a picture of its own. */
export function inlineStream(lib: PdfLib, context: PDFContext, entries: InlineEntries, data: Uint8Array): PDFRawStream {
  const dict = context.obj({});
  for (const [key, value] of entries) {
    const object = objectOf(lib, context, value);
    if (object) dict.set(lib.PDFName.of(key), object);
  }
  return lib.PDFRawStream.of(dict, data);
}

function objectOf(lib: PdfLib, context: PDFContext, value: Operand): PDFObject | undefined {
  if (value === null) return undefined;
  if (typeof value === 'number') return lib.PDFNumber.of(value);
  if (typeof value === 'boolean') return value ? lib.PDFBool.True : lib.PDFBool.False;
  if (isName(value)) return lib.PDFName.of(value.name);
  if ('bytes' in value) return lib.PDFHexString.of(Buffer.from(value.bytes, 'latin1').toString('hex'));
  if ('dict' in value) {
    const dict = context.obj({});
    for (const [key, each] of value.dict) {
      const object = objectOf(lib, context, each);
      if (object) dict.set(lib.PDFName.of(key), object);
    }
    return dict;
  }
  const array = context.obj([]);
  for (const each of value) array.push(objectOf(lib, context, each) ?? lib.PDFNull);
  return array;
}
