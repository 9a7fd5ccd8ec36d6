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
import { settleSide } from './side.js';
import { type Sniffed, sniff } from './sniff.js';
import type { Artwork, ReadOptions } from './types.js';

const ARTWORK = 'a paste layer (Gerber, PNG, BMP, TIFF, JPEG, WebP, GIF, SVG or PDF)';
/** Larger than any file that this project writes as text. */
const LARGEST_OF_OURS = 20e6;

const REFUSED: Partial<Record<Sniffed, { found: string; hint: string }>> = {
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
      const refused = REFUSED[format] ?? REFUSED.unknown;
      throw new InputError({
        code: 'NOT_ARTWORK',
        place: { file: options.name },
        message: `expected ${ARTWORK}, found ${refused?.found}.`,
        hint: refused?.hint,
      });
    }
  }
}
