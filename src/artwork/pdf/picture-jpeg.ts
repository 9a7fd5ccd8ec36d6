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
    // The decoder takes all inks for stored upside down and turns them.
    if (space === 'cmyk') for (let i = 0; i < data.length; i += 1) data[i] = 255 - data[i];
    return { values: data, components: channels };
  } catch (error) {
    // What else it can't read, the renderer may.
    if (error instanceof Error && /premature|truncated/i.test(error.message)) throw new DamagedStream(error.message);
    return undefined;
  }
}

const SPACES: Readonly<Record<number, string>> = { 1: 'b-w', 3: 'srgb', 4: 'cmyk' };
