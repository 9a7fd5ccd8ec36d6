import {
  type PDFContext,
  type PDFDict,
  PDFDocument,
  PDFName,
  PDFNumber,
  type PDFObject,
  PDFObjectCopier,
  PDFRawStream,
} from 'pdf-lib';
import { luma } from '../image/source.js';
import { CMYK, type ColourSpace, colourSpaceOf, GREY, RGB } from './colour-space.js';
import { DamagedStream, type Operand, UndecodedStream } from './lex.js';
import * as objects from './objects.js';
import { type Engine, withPage } from './pdfium.js';

/** A picture of a page as brightness, row by row from the top, 0 black to 255 white. Of a stencil, black paints. */
export interface PictureSamples {
  readonly width: number;
  readonly height: number;
  readonly grey: Uint8Array;
  /** Where the picture covers what lies beneath, 0 nowhere to 255 wholly; everywhere when left out. */
  readonly alpha?: Uint8Array;
  /** Signs that not all of it could be decoded: one colour all over, or no end of the data. The decoder says nothing. */
  readonly doubt?: 'blank' | 'cut off';
}

/** Larger pictures are left to the page's limits; a sheet of A4 at 1200 dpi has 140 million pixels. */
const MAX_PIXELS = 150_000_000;
/** Several bytes a pixel are needed to put a mask on a picture. */
const MAX_MASKED_PIXELS = 60_000_000;
/** What the decoder has to know of a picture; its masks are decoded apart. */
const KEYS = 'Type Width Height BitsPerComponent ColorSpace Decode DecodeParms Filter ImageMask'.split(' ');
const CODINGS = new Set(['DCTDecode', 'CCITTFaxDecode', 'JPXDecode', 'JBIG2Decode']);
/** A JPEG's mark of its end may have some bytes after it. */
const TAIL_BYTES = 1024;

/** A picture's size; undefined for sizes that can't be. */
export function pictureSize(dict: PDFDict): { width: number; height: number } | undefined {
  const width = objects.numberOf(objects.get(dict, 'Width')) ?? 0;
  const height = objects.numberOf(objects.get(dict, 'Height')) ?? 0;
  const isSize = Number.isInteger(width) && Number.isInteger(height) && width > 0 && height > 0;
  return isSize && width * height <= MAX_PIXELS ? { width, height } : undefined;
}

/** Whether all values are the same. */
export const isEven = (values: Uint8Array): boolean => values.every((value) => value === values[0]);

/** Whether a picture is a stencil, which paints with the current colour. */
export const isStencil = (dict: PDFDict): boolean => String(objects.get(dict, 'ImageMask')) === 'true';

/** How many bytes a picture's samples are before they are packed; undefined where the file does not say. */
function bytesNeeded(dict: PDFDict, space: ColourSpace): number | undefined {
  const size = pictureSize(dict);
  const bits = isStencil(dict) ? 1 : objects.numberOf(objects.get(dict, 'BitsPerComponent'));
  if (!size || !bits || space.kind === 'unknown') return undefined;
  return Math.ceil((size.width * space.components * bits) / 8) * size.height;
}

type Bytes = Uint8Array;

interface Decoded {
  readonly grey: Bytes;
  readonly alpha?: Bytes;
  /** The data up to a picture's own coding. */
  readonly unpacked: Bytes;
}

/**
 * Reads a picture and its masks (ISO 32000-1, sections 8.9.5 and 8.9.6). PDFium decodes each from a file that holds
 * nothing else: it hands out their own samples, not what a page makes of them.
 *
 * @returns undefined for what only the page as a whole can show
 * @throws {DamagedStream} when data are missing
 */
export async function readSamples(
  stream: PDFRawStream,
  resources: PDFDict | undefined,
): Promise<PictureSamples | undefined> {
  const { dict } = stream;
  const isThere = (key: string): boolean => !['undefined', '0'].includes(String(objects.get(dict, key)));
  if (isThere('SMaskInData')) return undefined;
  // A soft mask overrides the others (table 89).
  const key = ['SMask', 'Mask'].find(isThere);
  const mask = key === undefined ? undefined : objects.get(dict, key);
  const range = objects.array(mask);
  const picture = await samples(stream, resources, range && mask);
  if (!picture || !mask || range) return picture;
  if (!(mask instanceof PDFRawStream) || objects.get(mask.dict, 'Matte') !== undefined) return undefined;
  if (isStencil(mask.dict) !== (key === 'Mask')) return undefined;
  const own = await samples(mask, resources);
  // A stencil's black is where the picture is painted, a soft mask's white.
  const alpha = own && (key === 'Mask' ? own.grey.map((value) => 255 - value) : own.grey);
  return own && alpha && onOneGrid(picture, { ...own, grey: alpha });
}

async function samples(
  stream: PDFRawStream,
  resources: PDFDict | undefined,
  range?: PDFObject,
): Promise<PictureSamples | undefined> {
  const { dict, contents } = stream;
  const size = pictureSize(dict);
  if (!size) return undefined;
  const stencil = isStencil(dict);
  const coding = objects.filters(dict).at(-1) ?? '';
  const isCoded = CODINGS.has(coding);
  const named = stencil ? GREY : colourSpaceOf(resources, objects.get(dict, 'ColorSpace'));
  // A JPEG says itself whether it has colours.
  const inJpeg = objects.filters(dict).join() === 'DCTDecode' ? await jpegComponents(contents) : undefined;
  const space = inJpeg === undefined || inJpeg === named.components ? named : (DEVICES[inJpeg] ?? named);
  const decoded = await decode(stream, resources, stencil ? undefined : space, range);
  if (decoded && !isCoded && decoded.unpacked.length < (bytesNeeded(dict, space) ?? 0))
    throw new DamagedStream('it has fewer samples than its width and height say');
  if (
    coding === 'DCTDecode' &&
    decoded &&
    !Buffer.from(decoded.unpacked).subarray(-TAIL_BYTES).includes('\xff\xd9', 0, 'latin1')
  )
    throw new DamagedStream('its JPEG has no end');
  const grey = decoded?.grey ?? new Uint8Array(size.width * size.height).fill(255);
  const isUnsure = !decoded || (isCoded && isEven(grey));
  return {
    ...size,
    grey: stencil ? grey.map((value) => 255 - value) : grey,
    ...(decoded?.alpha ? { alpha: decoded.alpha } : {}),
    ...(lacksFaxEnd(stream) ? { doubt: 'cut off' } : isUnsure ? { doubt: 'blank' } : {}),
  };
}

async function decode(
  stream: PDFRawStream,
  resources: PDFDict | undefined,
  space: ColourSpace | undefined,
  range: PDFObject | undefined,
): Promise<Decoded | undefined> {
  try {
    const bytes = await fileWith(stream, resources, space, range);
    return await withPage(
      bytes,
      0,
      (page) => page && decodedIn(page.module, page.module._FPDFPage_GetObject(page.pageIdx, 0)),
    );
  } catch (cause) {
    throw new UndecodedStream('the decoder failed', { cause });
  }
}

async function fileWith(
  stream: PDFRawStream,
  resources: PDFDict | undefined,
  space: ColourSpace | undefined,
  range: PDFObject | undefined,
): Promise<Bytes> {
  const document = await PDFDocument.create({ updateMetadata: false });
  const { context } = document;
  const page = document.addPage([100, 100]);
  const copier = PDFObjectCopier.for(stream.dict.context, context);
  const dict = context.obj({ Subtype: 'Image' });
  for (const key of KEYS) {
    const value = stream.dict.get(PDFName.of(key));
    if (value) dict.set(PDFName.of(key), copier.copy(value));
  }
  if (range) dict.set(PDFName.of('Mask'), copier.copy(range));
  // Profiles and the decoder's own inks bend the way from light to dark, along which walls are placed.
  if (space?.device) dict.set(PDFName.of('ColorSpace'), deviceSpace(context, space.components, space.device));
  page.node.setXObject(PDFName.of('I'), context.register(PDFRawStream.of(dict, stream.contents)));
  const spaces = objects.dict(resources, 'ColorSpace');
  if (spaces) {
    page.node.Resources()?.set(PDFName.of('ColorSpace'), PDFObjectCopier.for(spaces.context, context).copy(spaces));
  }
  page.node.addContentStream(context.register(context.stream('0 g 100 0 0 100 0 0 cm /I Do')));
  return document.save({ useObjectStreams: false, updateFieldAppearances: false });
}

/** A space by its name, or that of inks by how they mix. */
function deviceSpace(context: PDFContext, components: number, device: string): PDFObject {
  if (!device.startsWith('{')) return PDFName.of(device);
  const range = (count: number): number[] => Array.from({ length: 2 * count }, (_, i) => i % 2);
  const mix = context.stream(device, { FunctionType: 4, Domain: range(components), Range: range(3) });
  const inks = Array.from({ length: components }, (_, i) => `Ink${i}`);
  return context.obj(['DeviceN', inks, 'DeviceRGB', context.register(mix)]);
}

function decodedIn(module: Engine, object: number): Decoded | undefined {
  const bitmap = object && module._FPDFImageObj_GetBitmap(object);
  if (!bitmap) return undefined;
  try {
    const [width, height] = [module._FPDFBitmap_GetWidth(bitmap), module._FPDFBitmap_GetHeight(bitmap)];
    const stride = module._FPDFBitmap_GetStride(bitmap);
    // One byte of grey, or blue, green and red with perhaps a fourth: 4 for opacity.
    const format = module._FPDFBitmap_GetFormat(bitmap);
    const step = [0, 1, 3, 4, 4][format] ?? 0;
    if (step === 0) return undefined;
    const grey = new Uint8Array(width * height);
    const alpha = format === 4 ? new Uint8Array(width * height) : undefined;
    const heap = module.HEAPU8;
    const from = module._FPDFBitmap_GetBuffer(bitmap);
    for (let y = 0, i = 0; y < height; y += 1) {
      for (let x = 0, at = from + y * stride; x < width; x += 1, i += 1, at += step) {
        grey[i] = step === 1 ? heap[at] : luma(heap[at + 2], heap[at + 1], heap[at]);
        if (alpha) alpha[i] = heap[at + 3];
      }
    }
    return { grey, unpacked: unpackedOf(module, object), ...(alpha ? { alpha } : {}) };
  } finally {
    module._FPDFBitmap_Destroy(bitmap);
  }
}

const DEVICES: Readonly<Record<number, ColourSpace>> = { 1: GREY, 3: RGB, 4: CMYK };

async function jpegComponents(bytes: Bytes): Promise<number | undefined> {
  const { default: sharp } = await import('sharp');
  return sharp(bytes)
    .metadata()
    .then(
      ({ channels }) => channels,
      () => undefined,
    );
}

function unpackedOf(module: Engine, object: number): Bytes {
  const length = module._FPDFImageObj_GetImageDataDecoded(object, 0, 0);
  const pointer = module.wasmExports.malloc(length);
  if (pointer === 0) throw new Error('no memory for the data of a picture');
  try {
    module._FPDFImageObj_GetImageDataDecoded(object, pointer, length);
    return module.HEAPU8.slice(pointer, pointer + length);
  } finally {
    module.wasmExports.free(pointer);
  }
}

/** A picture and its mask on the finer one's pixels; undefined unless those fit into the other's. */
async function onOneGrid(picture: PictureSamples, mask: PictureSamples): Promise<PictureSamples | undefined> {
  const width = Math.max(picture.width, mask.width);
  const height = Math.max(picture.height, mask.height);
  const fit =
    width * height <= MAX_MASKED_PIXELS &&
    [picture, mask].every((each) => width % each.width === 0 && height % each.height === 0);
  if (!fit) return undefined;
  const { default: sharp } = await import('sharp');
  const repeated = async (each: PictureSamples): Promise<Bytes> => {
    if (each.width === width && each.height === height) return each.grey;
    const raw = { width: each.width, height: each.height, channels: 1 } as const;
    const finer = sharp(each.grey, { raw, limitInputPixels: false }).resize(width, height, {
      fit: 'fill',
      kernel: 'nearest',
    });
    return finer.extractChannel(0).raw().toBuffer();
  };
  const [grey, alpha] = [await repeated(picture), await repeated(mask)];
  return { ...picture, width, height, grey, alpha };
}

/** The mark at the end of group 4 data (ITU-T T.6, section 2.4.1.1). */
const END = '000000000001000000000001';
/** Bytes of padding and line ends may follow it. */
const FAX_TAIL_BYTES = 16;

/** Whether group 4 fax data lack the mark at their end, which they have unless the file says otherwise (table 11). */
function lacksFaxEnd({ dict, contents }: PDFRawStream): boolean {
  const filters = objects.filters(dict);
  // Behind another filter that one's own end is the proof.
  if (filters.length !== 1 || filters[0] !== 'CCITTFaxDecode') return false;
  const all = objects.get(dict, 'DecodeParms');
  const parameters = objects.asDict(objects.array(all)?.[0] ?? all);
  const isGroup4 = (objects.numberOf(objects.get(parameters, 'K')) ?? 0) < 0;
  if (!isGroup4 || String(objects.get(parameters, 'EndOfBlock')) === 'false') return false;
  const tail = Array.from(contents.subarray(-FAX_TAIL_BYTES), (byte) => byte.toString(2).padStart(8, '0')).join('');
  return !tail.includes(END);
}

/** Short keys of inline pictures (ISO 32000-1, table 93; L is of ISO 32000-2). */
const SHORT_KEYS: Readonly<Record<string, string>> = {
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
    dict.set(PDFName.of(SHORT_KEYS[short] ?? short), typeof value === 'number' ? PDFNumber.of(value) : value);
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
