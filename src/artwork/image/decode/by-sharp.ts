import type { Matrix3x3, Metadata, Sharp } from 'sharp';
import type { ArtworkFormat } from '../../types.js';
import {
  checkPixelCount,
  damaged,
  LUMA_SHARES,
  type PixelSource,
  type StatedResolution,
  unsupported,
} from '../source.js';
import { type CoverageMap, coverageMapOf } from '../trace/coverage-map.js';
import { hasGreyPlanes, isIntact, readTiffTags, type TiffTags } from './tiff.js';

/** Brightness in each channel, as the levels are written: between two colours it goes evenly with the area of each. */
const LUMA: Matrix3x3 = [LUMA_SHARES, LUMA_SHARES, LUMA_SHARES];
/** The decoded rows are held whole: one byte a pixel. */
const MAX_PIXELS = 4e8;
/** These decoders hold all channels of the whole picture as well. */
const MAX_HELD_PIXELS = 1.2e8;

/**
 * Opens an image through sharp (libvips): TIFF, JPEG, WebP, GIF, and PNG of rarer kinds. Only the first picture of a file
 * that holds several. Resolution is read from the file itself, because a decoder's default can't be told from a
 * statement.
 *
 * @param stated - what is known about the resolution already
 * @throws {InputError} IMAGE_DAMAGED, IMAGE_UNSUPPORTED, IMAGE_TOO_LARGE
 */
export async function openDecoded(
  bytes: Uint8Array,
  format: ArtworkFormat,
  file: string | undefined,
  stated: Partial<Pick<PixelSource, 'resolution' | 'pixelAspect' | 'complaints'>> & { interlaced?: boolean } = {},
): Promise<PixelSource> {
  if (format === 'tiff' && !isIntact(bytes))
    throw damaged(file, 'the TIFF file is damaged or cut off: a part of its picture has another checksum.');
  if (format === 'tiff' && hasGreyPlanes(bytes))
    throw unsupported(file, 'the TIFF file holds grey and opacity in planes of their own, which is not read.');
  const { default: sharp } = await import('sharp');
  const decoder = (failOn: 'warning' | 'error'): Sharp =>
    sharp(bytes, { limitInputPixels: false, sequentialRead: true, failOn, pages: 1 });
  const image = decoder('warning');
  let meta: Metadata;
  let isFraction = false;
  try {
    meta = await image.metadata();
    // Floating-point levels go from 0 to 1, unless larger ones show that they don't.
    if (meta.depth === 'float') isFraction = (await image.stats()).channels.every(({ max }) => max <= 1);
  } catch (error) {
    throw unreadable(format, file, error);
  }
  const [width, height] = [meta.width ?? 0, meta.height ?? 0];
  const isStreamed = format === 'tiff' || format === 'jpeg' || (format === 'png' && !stated.interlaced);
  checkPixelCount(width, height, file, isStreamed ? MAX_PIXELS : MAX_HELD_PIXELS);
  const { resolution, pixelAspect, orientation } = facts(bytes, format, meta, stated);
  const turned = orientation >= 5;
  const upright = (from: Sharp): Sharp => {
    const lit = isFraction ? from.linear(255, 0) : from;
    return orientation === 1 ? lit : lit.autoOrient();
  };
  const complaints = new Set(stated.complaints);
  const size = { width: turned ? height : width, height: turned ? width : height };
  const decoded = async (step: (from: Sharp) => Sharp): Promise<CoverageMap> => {
    const decode = (from: Sharp): Promise<Buffer> => step(upright(from)).raw({ depth: 'uchar' }).toBuffer();
    const data = await decode(image.clone())
      .catch((error: unknown) => {
        const beside = besideThePicture(error);
        if (!beside) throw error;
        complaints.add(beside);
        return decode(decoder('error'));
      })
      .catch((error: unknown) => {
        throw unreadable(format, file, error);
      });
    return coverageMapOf(size.width, size.height, data);
  };
  return {
    ...size,
    resolution: turned ? swapped(resolution) : resolution,
    pixelAspect: turned && pixelAspect ? 1 / pixelAspect : pixelAspect,
    pictures: meta.pages ?? 1,
    complaints,
    decode: () => decoded((from) => from.flatten({ background: '#ffffff' }).recomb(LUMA).extractChannel(0)),
    ...(meta.hasAlpha ? { decodeOpacity: () => decoded((from) => from.extractChannel('alpha')) } : {}),
  };
}

/** Complaints about what is written beside the picture, which old programs are careless with. */
const BESIDE = /^(ASCII value for tag|Invalid TIFF directory; tags are not sorted|Unknown field)/;
/** What the decoder says around its complaints. */
const FRAME = /^(Warning treated as error|error in tile|$)/;

const linesOf = (error: unknown): string[] =>
  error instanceof Error ? error.message.split('\n').filter((line) => !FRAME.test(line)) : [];

/** A decoder's complaint when it is about nothing but what is written beside the picture. */
function besideThePicture(error: unknown): string | undefined {
  const lines = linesOf(error);
  return lines.length > 0 && lines.every((line) => BESIDE.test(line)) ? lines[0] : undefined;
}

function unreadable(format: ArtworkFormat, file: string | undefined, error: unknown) {
  return damaged(
    file,
    `the ${format.toUpperCase()} file can't be decoded (${linesOf(error)[0] ?? String(error)}).`,
    error,
  );
}

/** What a file says of its resolution and of how it lies, beside what is known already. */
export function facts(
  bytes: Uint8Array,
  format: string,
  meta: Pick<Metadata, 'exif'>,
  stated: { resolution?: StatedResolution; pixelAspect?: number },
): { resolution?: StatedResolution; pixelAspect?: number; orientation: number } {
  const exif: TiffTags | undefined =
    format === 'tiff'
      ? readTiffTags(bytes, 'TIFF resolution tags')
      : meta.exif
        ? readTiffTags(meta.exif.subarray(meta.exif[0] === 0x45 ? 6 : 0), 'Exif resolution')
        : undefined;
  const jfif = format === 'jpeg' ? jfifResolution(bytes) : {};
  return {
    resolution: stated.resolution ?? jfif.resolution ?? exif?.resolution,
    pixelAspect: stated.pixelAspect ?? jfif.pixelAspect ?? exif?.pixelAspect,
    orientation: format === 'png' ? 1 : (exif?.orientation ?? 1),
  };
}

function swapped(stated: StatedResolution | undefined): StatedResolution | undefined {
  return stated && { ...stated, perMmX: stated.perMmY, perMmY: stated.perMmX };
}

const JFIF_INCH = 1;
const JFIF_CENTIMETRE = 2;

/**
 * Finds the resolution in a JPEG file's JFIF header; undefined when it says none.
 *
 * @remarks Source: JPEG File Interchange Format 1.02 (1992): units 0 none, 1 dots per inch, 2 dots per cm.
 */
function jfifResolution(bytes: Uint8Array): { resolution?: StatedResolution; pixelAspect?: number } {
  for (let at = 2; at + 18 <= bytes.length && bytes[at] === 0xff; ) {
    const marker = bytes[at + 1];
    if (marker === 0xda || marker === 0xd9) return {};
    if (marker === 0xe0 && bytes[at + 4] === 0x4a && bytes[at + 5] === 0x46 && bytes[at + 6] === 0x49) {
      const unit = bytes[at + 11];
      const x = (bytes[at + 12] << 8) | bytes[at + 13];
      const y = (bytes[at + 14] << 8) | bytes[at + 15];
      if (x === 0 || y === 0) return {};
      if (unit !== JFIF_INCH && unit !== JFIF_CENTIMETRE) return { pixelAspect: x / y };
      const perMm = unit === JFIF_INCH ? 25.4 : 10;
      return { resolution: { perMmX: x / perMm, perMmY: y / perMm, saidBy: 'JFIF header' } };
    }
    at += 2 + ((bytes[at + 2] << 8) | bytes[at + 3]);
  }
  return {};
}
