import type { Metadata, Sharp } from 'sharp';
import type { ArtworkFormat } from '../../types.js';
import { checkPixelCount, damaged } from '../refusals.js';
import { greyRowBuffer, type PixelSource, type RowSink, type StatedResolution } from '../source.js';
import { jfifResolution } from './jpeg-density.js';
import { readTiffTags, type TiffTags } from './tiff-tags.js';

/** The decoded rows are held whole: one byte a pixel. */
const MAX_PIXELS = 4e8;
/** These decoders hold all channels of the whole picture as well. */
const MAX_HELD_PIXELS = 1.2e8;

/**
 * Opens an image through sharp (libvips): TIFF, JPEG, WebP, GIF, and interlaced PNG. Only the first picture of a file
 * that holds several. Resolution is read from the file itself, because a decoder's default can't be told from a
 * statement.
 *
 * @param stated - what is known about the resolution already
 * @throws {InputError} IMAGE_DAMAGED, IMAGE_TOO_LARGE
 */
export async function openDecoded(
  bytes: Uint8Array,
  format: ArtworkFormat,
  file: string | undefined,
  stated: { resolution?: StatedResolution; pixelAspect?: number } = {},
): Promise<PixelSource> {
  const { default: sharp } = await import('sharp');
  const image = sharp(bytes, { limitInputPixels: false, sequentialRead: true, failOn: 'truncated', pages: 1 });
  let meta: Metadata;
  try {
    meta = await image.metadata();
  } catch (error) {
    throw unreadable(format, file, error);
  }
  const [width, height] = [meta.width ?? 0, meta.height ?? 0];
  checkPixelCount(width, height, file, format === 'tiff' || format === 'jpeg' ? MAX_PIXELS : MAX_HELD_PIXELS);
  const { resolution, pixelAspect, orientation } = facts(bytes, format, meta, stated);
  const turned = orientation >= 5;
  const upright = orientation === 1 ? image : image.autoOrient();
  const size = { width: turned ? height : width, height: turned ? width : height };
  const sender = (step: (from: Sharp) => Sharp, send: typeof sendGrey) => async (sink: RowSink) => {
    let raw: { data: Buffer; info: RawInfo };
    try {
      raw = await step(upright.clone())
        .toColourspace('b-w')
        .raw({ depth: 'uchar' })
        .toBuffer({ resolveWithObject: true });
    } catch (error) {
      throw unreadable(format, file, error);
    }
    send(raw.data, raw.info, sink);
  };
  return {
    ...size,
    resolution: turned ? swapped(resolution) : resolution,
    pixelAspect: turned && pixelAspect ? 1 / pixelAspect : pixelAspect,
    isBits: false,
    pictures: meta.pages ?? 1,
    sendRows: sender((from) => from.flatten({ background: '#ffffff' }), sendGrey),
    ...(meta.hasAlpha
      ? { opacity: { ...size, isBits: false, sendRows: sender((from) => from.extractChannel('alpha'), sendInverse) } }
      : {}),
  };
}

interface RawInfo {
  readonly width: number;
  readonly height: number;
  readonly channels: number;
}

function sendGrey(data: Buffer, { width, height, channels }: RawInfo, sink: RowSink): void {
  const out = greyRowBuffer(width);
  for (let y = 0; y < height; y += 1) {
    const at = y * width * channels;
    if (channels === 1) out.set(data.subarray(at, at + width));
    else for (let x = 0; x < width; x += 1) out[x] = data[at + x * channels];
    sink.addGreyRow(out);
  }
}

/** Opaque parts dark. */
function sendInverse(opacity: Buffer, info: RawInfo, sink: RowSink): void {
  sendGrey(opacity.map((v) => 255 - v) as Buffer, info, sink);
}

function unreadable(format: ArtworkFormat, file: string | undefined, error: unknown) {
  const why = error instanceof Error ? error.message.split('\n')[0] : String(error);
  return damaged(file, `the ${format.toUpperCase()} file can't be decoded (${why}).`, error);
}

function facts(
  bytes: Uint8Array,
  format: ArtworkFormat,
  meta: Metadata,
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
