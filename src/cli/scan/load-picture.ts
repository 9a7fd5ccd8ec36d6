import type { Sharp } from 'sharp';
import { InputError } from '../../errors.js';
import type { GreyPicture } from '../../scan/picture/picture.js';
import type { Io } from '../io.js';

/** A whole sheet of A4 at 2400 dpi is 557 million pixels. */
const MOST_PX = 6e8;
/** Programs write 72 or 96 where they know nothing. */
const LEAST_STATED_DPI = 150;
const SMALL_PX = 900;

/** 0 red or grey, 1 green, 2 blue. */
export type Channel = 0 | 1 | 2;

export interface LoadedPicture {
  readonly picture: GreyPicture;
  /** The one that was taken of a colour picture. */
  readonly channel: Channel;
}

/**
 * Decodes a scan to grey levels of one byte: of a colour picture the channel in which film and openings differ most.
 *
 * @param usual - the channel to be taken of colour pictures, when it is known: to find it takes as long as to decode
 * @throws {InputError} SCAN_UNREADABLE
 */
export async function loadPicture(
  file: string,
  dpi: { readonly x: number; readonly y: number } | undefined,
  io: Io,
  usual?: Channel,
): Promise<LoadedPicture> {
  const bytes = await io.readFile(file);
  const { default: sharp } = await import('sharp');
  const open = (): Sharp => sharp(bytes, { failOn: 'warning', limitInputPixels: MOST_PX, sequentialRead: true });
  try {
    const { channels = 1, density } = await open().metadata();
    const channel = channels < 3 ? 0 : (usual ?? (await clearestChannel(open())));
    const { data, info } = await grey(open(), channel);
    const whole = { widthPx: info.width, heightPx: info.height, levels: data };
    const stated = density !== undefined && density >= LEAST_STATED_DPI ? { x: density, y: density } : undefined;
    const said = dpi ?? stated;
    return {
      picture: {
        ...whole,
        ...(said ? { dotsPerMm: { x: said.x / 25.4, y: said.y / 25.4 } } : {}),
      },
      channel,
    };
  } catch (error) {
    if (error instanceof InputError) throw error;
    throw new InputError({
      code: 'SCAN_UNREADABLE',
      place: { file },
      message: `it could not be read as a picture: ${(error as Error).message.split('\n')[0]}.`,
      hint: 'Scan to PNG or TIFF, at most 600 million pixels.',
    });
  }
}

/** Of 16 bit the upper eight: half a level is a hundredth of a dot at an edge, and a sheet of A4 takes half the memory. */
async function grey(
  image: Sharp,
  channel: Channel,
): Promise<{ data: Uint8Array; info: { width: number; height: number } }> {
  const one = image.removeAlpha().extractChannel(channel).raw({ depth: 'uchar' });
  const { data, info } = await one.toBuffer({ resolveWithObject: true });
  return { data, info: { width: info.width, height: info.height } };
}

/** The channel whose levels lie farthest apart. */
async function clearestChannel(image: Sharp): Promise<Channel> {
  const small = await image
    .resize(SMALL_PX, SMALL_PX, { fit: 'inside' })
    .removeAlpha()
    .raw({ depth: 'uchar' })
    .toBuffer();
  const spreads = [0, 1, 2].map((channel) => {
    let [n, sum, square] = [0, 0, 0];
    for (let i = channel; i < small.length; i += 3) {
      n += 1;
      sum += small[i];
      square += small[i] ** 2;
    }
    return square / n - (sum / n) ** 2;
  });
  return spreads.indexOf(Math.max(...spreads)) as Channel;
}
