import { InputError } from '../errors.js';
import { boxAround, boxWithin, regionBounds } from '../geometry/bounds.js';
import { FARTHEST_MM } from '../geometry/clean.js';
import { markClean } from '../geometry/copies.js';
import type { Opening } from '../geometry/types.js';
import {
  checkGiven,
  either,
  givenBytes,
  listOf,
  objectOf,
  oneOf,
  someNumber,
  someText,
  type Want,
  yesOrNo,
  zeroOrMore,
} from '../given.js';
import { wrongFile } from '../schema/our-files.js';
import { decodeLayer } from './gerber/lex.js';
import { settleSide } from './side.js';
import type { Artwork, ArtworkFormat, ReadOptions } from './types.js';

const ARTWORK = 'a paste layer (Gerber, PNG, BMP, TIFF, JPEG, WebP, GIF, SVG or PDF)';
/** Larger than any file that this project writes as text. */
const LARGEST_OF_OURS = 20e6;

const REFUSED: Record<Exclude<Sniffed, ArtworkFormat>, { found: string; hint: string }> = {
  zip: {
    found: 'a zip archive',
    hint: 'Unpack it and give the paste layer, or give the archive to a command that takes archives (`correct`, `predict`).',
  },
  packed: { found: 'an archive of a kind that is not read', hint: 'Unpack it and give the paste layer.' },
  gzip: { found: 'a gzip-compressed file', hint: 'Unpack it first.' },
  drill: { found: 'a drill file', hint: 'Give the paste layer; drill files are taken by `layout` for tooling holes.' },
  html: { found: 'a web page', hint: 'A download may have failed; fetch the file again.' },
  dxf: { found: 'a DXF drawing', hint: 'Export the paste layer as Gerber, SVG or PDF instead.' },
  empty: { found: 'an empty file', hint: 'Export the paste layer again.' },
  unknown: {
    found: 'something that is none of these',
    hint: 'Check that this is the paste layer and that it is complete.',
  },
};

/** Whether numbers are possible each reader says itself. */
const READ_OPTIONS: { readonly [key in keyof ReadOptions]-?: Want } = {
  name: someText,
  side: oneOf('top', 'bottom'),
  jobFunction: someText,
  dpi: either(someNumber, listOf(someNumber, 2)),
  widthMm: someNumber,
  knownDistance: objectOf({ from: someNumber, to: someNumber, distanceMm: someNumber }),
  polarity: oneOf('auto', 'dark', 'light'),
  asDots: yesOrNo,
  dropSpecksMm: zeroOrMore,
  page: someNumber,
  acceptAnyLayer: yesOrNo,
};

/**
 * Reads a paste layer into openings. The format is found by content, never by name.
 *
 * @param bytes - the whole file: Gerber (RS-274X, X2, X3), PNG, BMP, TIFF, JPEG, WebP, GIF, SVG or PDF
 * @param options - what the format can't say itself: resolution, polarity, page, side
 * @returns openings in mm, numbered from 1 in this order; the side of the board and who says it; warnings as data
 * @throws {InputError} BAD_VALUE for what is no bytes and options that are none, NOT_ARTWORK for other files, SIZE_UNKNOWN for an image without a true size, FAR_OUT for openings of ten metres, and what each reader adds
 * @example (await readArtwork(paste)).openings.length // 108
 */
export async function readArtwork(bytes: Uint8Array | ArrayBuffer, options: ReadOptions = {}): Promise<Artwork> {
  checkGiven('options', options, READ_OPTIONS);
  const { side: attribute, ...artwork } = await readByFormat(givenBytes(bytes), options);
  const { warnings, ...settled } = settleSide({ attribute, options });
  refuseFarOut(artwork.openings, options.name);
  artwork.openings.forEach(markClean);
  return { ...artwork, ...settled, warnings: [...warnings, ...artwork.warnings] };
}

/** Slips in units, scales and macros make openings of kilometres, whatever the format. */
function refuseFarOut(openings: readonly Opening[], file: string | undefined): void {
  const far = openings.findIndex((opening) => {
    return !boxWithin(regionBounds(opening), boxAround([0, 0], 2 * FARTHEST_MM, 2 * FARTHEST_MM));
  });
  if (far < 0) return;
  throw new InputError({
    code: 'FAR_OUT',
    place: { file, line: openings[far].tag?.line },
    message: `opening ${far + 1} reaches more than ${FARTHEST_MM / 1000} metres out.`,
    hint: 'Check the units and the scale of the artwork, and export it again.',
  });
}

async function readByFormat(bytes: Uint8Array, options: ReadOptions): Promise<Artwork> {
  const format = sniff(bytes);
  switch (format) {
    case 'gerber':
      return (await import('./gerber/read-gerber.js')).readGerber(bytes, options);
    case 'svg':
      return (await import('./svg/read-svg.js')).readSvg(bytes, options);
    case 'pdf':
      return (await import('./pdf/read-pdf.js')).readPdf(bytes, options);
    case 'png':
    case 'bmp':
    case 'tiff':
    case 'jpeg':
    case 'webp':
    case 'gif':
      return (await import('./image/read-image.js')).readImage(bytes, format, options);
    default: {
      const ours =
        format === 'unknown' &&
        bytes.length < LARGEST_OF_OURS &&
        wrongFile(options.name, ARTWORK, Buffer.from(bytes).toString('utf8'));
      if (ours) throw ours;
      const { found, hint } = REFUSED[format];
      throw new InputError({
        code: 'NOT_ARTWORK',
        place: { file: options.name },
        message: `expected ${ARTWORK}, found ${found}.`,
        hint,
      });
    }
  }
}

/** What a file's content says it is: artwork, or something else that deserves a clear refusal. */
export type Sniffed = ArtworkFormat | 'zip' | 'gzip' | 'packed' | 'drill' | 'html' | 'dxf' | 'empty' | 'unknown';

/** How many bytes of a text are looked at; the first commands of a layer may follow long comments. */
const TEXT_WINDOW = 65_536;

const MAGIC: readonly (readonly [Sniffed, readonly number[]])[] = [
  ['png', [0x89, 0x50, 0x4e, 0x47]],
  ['jpeg', [0xff, 0xd8, 0xff]],
  ['gif', [0x47, 0x49, 0x46, 0x38]],
  ['tiff', [0x49, 0x49, 0x2a, 0x00]],
  ['tiff', [0x4d, 0x4d, 0x00, 0x2a]],
  ['tiff', [0x49, 0x49, 0x2b, 0x00]],
  ['tiff', [0x4d, 0x4d, 0x00, 0x2b]],
  ['zip', [0x50, 0x4b, 0x03, 0x04]],
  ['zip', [0x50, 0x4b, 0x05, 0x06]],
  ['gzip', [0x1f, 0x8b]],
  // 7z, RAR, xz.
  ['packed', [0x37, 0x7a, 0xbc, 0xaf, 0x27, 0x1c]],
  ['packed', [0x52, 0x61, 0x72, 0x21, 0x1a, 0x07]],
  ['packed', [0xfd, 0x37, 0x7a, 0x58, 0x5a]],
];

function startsWith(bytes: Uint8Array, magic: readonly number[]): boolean {
  return magic.every((byte, i) => bytes[i] === byte);
}

function ascii(bytes: Uint8Array, from: number, to: number): string {
  const part = bytes.subarray(from, to);
  return Buffer.from(part.buffer, part.byteOffset, part.length).toString('latin1');
}

/** A command between percent signs with what must follow it, so that "50 % more" in a letter is none. */
const EXTENDED =
  /%\s*(?:FS\s*[LTDAINXYGM]|MO\s*(?:MM|IN)|AD\s*D|AM[^%\r\n]+\*|LP\s*[DC]|T[FAO]\s*[.\w]|IP\s*(?:POS|NEG)|OF\s*[AB]|MI\s*[AB]|SF\s*[AB]|IR\s*\d|AS\s*[AB]|(?:IN|LN|SR)[^%\r\n]*\*)/i;

function sniffText(text: string): Sniffed {
  const head = text.trimStart();
  if (head === '') return 'empty';
  if (/^<(?:!doctype html|(?:html|head|title|meta|body|script|table)\b)/i.test(head)) return 'html';
  if (/^(?:<\?xml|<!--|<!DOCTYPE svg|<svg|<[\w-]+:svg)/i.test(head))
    return /<(?:[\w-]+:)?svg[\s>]/i.test(head) ? 'svg' : /<html\b/i.test(head) ? 'html' : 'unknown';
  // A drill program starts its header with M48, or defines tools as T1C0.8; a Gerber layer never does.
  const commands = head.replace(/^[ \t]*;.*$/gm, '').trimStart();
  if (/^%?\s*M48\b/.test(commands) || /^T\d+(?:[FS]\d+)*C[\d.]+/m.test(commands)) return 'drill';
  // Old ones have neither: a tool on a line of its own, and holes below it.
  if (!commands.includes('*') && /^T\d+\s*$/m.test(commands) && /^(?:X-?[\d.]+)?Y-?[\d.]+\s*$/m.test(commands))
    return 'drill';
  if (EXTENDED.test(head)) return 'gerber';
  if (/(?:^|[*\r\n])[ \t]*G0?4\b/i.test(head) || /[XY][+-]?\d+(?:D0?[123])?\*/i.test(head) || /D\d+\*/i.test(head))
    return 'gerber';
  if (/^\s*0\s*\r?\n\s*SECTION/.test(head)) return 'dxf';
  return 'unknown';
}

/** Finds a file's format by its content. A file's name plays no part. */
export function sniff(bytes: Uint8Array): Sniffed {
  if (bytes.length === 0) return 'empty';
  for (const [format, magic] of MAGIC) if (startsWith(bytes, magic)) return format;
  if (startsWith(bytes, [0x52, 0x49, 0x46, 0x46]) && ascii(bytes, 8, 12) === 'WEBP') return 'webp';
  if (startsWith(bytes, [0x42, 0x4d]) && bytes.length >= 26 && bytes[14] >= 12 && bytes[15] === 0) return 'bmp';
  const head = decodeLayer(bytes.subarray(0, TEXT_WINDOW));
  if (head.slice(0, 1024).includes('%PDF-')) return 'pdf';
  if (head.includes('\0')) return 'unknown';
  return sniffText(head);
}

/** Refuses a file of another format than the one that is wanted, under `code`. */
export function requireFormat(
  bytes: Uint8Array,
  wanted: Sniffed,
  { code, expected, hint, file }: { code: string; expected: string; hint: string; file: string | undefined },
): void {
  const format = sniff(bytes);
  if (format === wanted) return;
  const found = format === 'unknown' ? 'something else' : `a file of the kind ${format}`;
  throw new InputError({ code, place: { file }, message: `expected ${expected}, found ${found}.`, hint });
}
