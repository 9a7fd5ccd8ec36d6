import { DamagedStream } from './stream-errors.js';

/** A JPEG's components as it stores them, pixel by pixel. */
export interface JpegSamples {
  readonly values: Uint8Array;
  readonly components: number;
}

/**
 * Decodes a JPEG in a PDF (ISO 32000-1, section 7.4.8). Four inks are given as they are stored: the picture's `Decode`
 * says whether full ink is 0 or 255.
 *
 * @returns undefined for sizes and kinds that only the renderer knows how to show
 * @throws {DamagedStream} for data that end early
 */
export async function jpegSamples(bytes: Uint8Array, width: number, height: number): Promise<JpegSamples | undefined> {
  const { default: sharp } = await import('sharp');
  const image = sharp(bytes, { limitInputPixels: width * height, failOn: 'truncated', ignoreIcc: true });
  try {
    const { channels } = await image.metadata();
    const space = SPACES[channels ?? 0];
    if (space === undefined) return undefined;
    const { data, info } = await image
      .pipelineColourspace(space)
      .toColourspace(space)
      .raw({ depth: 'uchar' })
      .toBuffer({ resolveWithObject: true });
    if (info.width !== width || info.height !== height || info.channels !== channels) return undefined;
    // The decoder takes the mark for a sign that inks are stored upside down.
    if (space === 'cmyk' && hasAdobeMark(bytes)) for (let i = 0; i < data.length; i += 1) data[i] = 255 - data[i];
    return { values: data, components: channels };
  } catch (error) {
    // What else it can't read, the renderer may.
    if (error instanceof Error && /premature|truncated/i.test(error.message)) throw new DamagedStream(error.message);
    return undefined;
  }
}

const SPACES: Readonly<Record<number, string>> = { 1: 'b-w', 3: 'srgb', 4: 'cmyk' };

/** Whether a segment APP14 of the name "Adobe" comes before the picture's data (ISO/IEC 10918-6, section 6.5.3). */
function hasAdobeMark(bytes: Uint8Array): boolean {
  for (let at = 2; at + 16 <= bytes.length && bytes[at] === 0xff; ) {
    const marker = bytes[at + 1];
    if (marker === 0xff) {
      at += 1;
      continue;
    }
    if (marker === 0xda) return false;
    const length = (bytes[at + 2] << 8) | bytes[at + 3];
    if (marker === 0xee && length >= 14 && Buffer.from(bytes.subarray(at + 4, at + 9)).toString('latin1') === 'Adobe') {
      return true;
    }
    at += 2 + length;
  }
  return false;
}
