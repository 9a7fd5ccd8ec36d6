import type { Sharp } from 'sharp';
import { InputError } from '../../errors.js';
import type { GreyPicture } from '../../scan/picture/picture.js';
import type { Io } from '../io.js';

/** A whole sheet of A4 at 2400 dpi is 557 million pixels. */
const MOST_PX = 6e8;
/** Programs write 72 or 96 where they know nothing. */
const LEAST_STATED_DPI = 150;
const SMALL_PX = 900;
/** Variances that differ by less than this factor are as good as each other. */
const ALIKE = 1.05;

/** 0 red or grey, 1 green, 2 blue. */
export type Channel = 0 | 1 | 2;

export interface LoadedPicture {
  readonly picture: GreyPicture;
  /** The one that was taken of a colour picture. */
  readonly channel: Channel;
}

/** A picture that is being decoded beside the thread that asked for it. */
export interface Loading {
  readonly loaded: Promise<LoadedPicture>;
}

/** Film and openings usually differ in it; where all channels are alike it is as good as any. */
const GREEN = 1;

/**
 * Decodes a scan to grey levels of one byte: of a colour picture the channel in which film and openings differ most.
 *
 * @param usual - the channel to be taken of colour pictures, when it is known: to find it takes as long as to decode
 * @throws {InputError} SCAN_UNREADABLE
 */
export async function loadPicture(...asked: Parameters<typeof beginLoading>): Promise<LoadedPicture> {
  return (await beginLoading(...asked)).loaded;
}

/** The same, returning as soon as the decoder is at work: who then keeps this thread busy doesn't hold it up. */
export async function beginLoading(
  file: string,
  dpi: { readonly x: number; readonly y: number } | undefined,
  io: Io,
  usual?: Channel,
): Promise<Loading> {
  const bytes = await io.readFile(file);
  const { default: sharp } = await import('sharp');
  const open = (): Sharp => sharp(bytes, { failOn: 'warning', limitInputPixels: MOST_PX, sequentialRead: true });
  const said = (error: Error): InputError =>
    new InputError({
      code: 'SCAN_UNREADABLE',
      place: { file },
      message: `it could not be read as a picture: ${error.message.split('\n')[0]}.`,
      hint: 'Scan to PNG or TIFF, at most 600 million pixels.',
    });
  const { channels = 1, density } = await open()
    .metadata()
    .catch((error: Error) => Promise.reject(said(error)));
  const stated = density !== undefined && density >= LEAST_STATED_DPI ? { x: density, y: density } : undefined;
  const dots = dpi ?? stated;
  const sized = dots ? { dotsPerMm: { x: dots.x / 25.4, y: dots.y / 25.4 } } : {};
  const decoding = channels < 3 ? one(open(), 0) : usual === undefined ? clearest(open) : one(open(), usual);
  const loaded = decoding.then(
    ({ picture, channel }) => ({ picture: { ...picture, ...sized }, channel }),
    (error: Error) => Promise.reject(said(error)),
  );
  // What is wrong with it is told to whom it is handed.
  loaded.catch(() => undefined);
  return { loaded };
}

/** Of 16 bit the upper eight: half a level is a hundredth of a dot at an edge, and a sheet of A4 takes half the memory. */
async function one(image: Sharp, channel: Channel): Promise<LoadedPicture> {
  const levels = image.removeAlpha().extractChannel(channel).raw({ depth: 'uchar' });
  const { data, info } = await levels.toBuffer({ resolveWithObject: true });
  return { picture: { widthPx: info.width, heightPx: info.height, levels: data }, channel };
}

/** The channel whose levels lie farthest apart. While that is looked for one is decoded that it mostly is. */
async function clearest(open: () => Sharp): Promise<LoadedPicture> {
  const [spreads, likely] = await Promise.all([spreadOfChannels(open()), one(open(), GREEN)]);
  const channel = spreads.indexOf(Math.max(...spreads)) as Channel;
  return spreads[channel] < ALIKE * spreads[GREEN] ? likely : one(open(), channel);
}

async function spreadOfChannels(image: Sharp): Promise<number[]> {
  const small = await image
    .resize(SMALL_PX, SMALL_PX, { fit: 'inside' })
    .removeAlpha()
    .raw({ depth: 'uchar' })
    .toBuffer();
  return [0, 1, 2].map((channel) => {
    let [n, sum, square] = [0, 0, 0];
    for (let i = channel; i < small.length; i += 3) {
      n += 1;
      sum += small[i];
      square += small[i] ** 2;
    }
    return square / n - (sum / n) ** 2;
  });
}
