import type { Metadata, Sharp } from 'sharp';
import { InputError } from '../../errors.js';
import type { PerAxis } from '../../geometry/types.js';
import type { GreyPicture } from '../../scan/picture/picture.js';
import type { Io } from '../io.js';

/** A whole sheet of A4 at 2400 dpi is 557 million pixels. */
const MOST_PX = 6e8;
/** Programs write 72 or 96 where they know nothing. */
const LEAST_STATED_DPI = 150;
const SMALL_PX = 900;
/** Variances that differ by less than this factor are as good as each other. */
const ALIKE = 1.05;
/** Dots are as good as square, longer than wide by less than this factor. */
const SQUARE = 1.02;

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
export async function beginLoading(file: string, dpi: PerAxis | undefined, io: Io, usual?: Channel): Promise<Loading> {
  const bytes = await io.readFile(file);
  const refused = (why: string): InputError =>
    new InputError({
      code: 'SCAN_UNREADABLE',
      place: { file },
      message: `it could not be read as a picture: ${why}.`,
      hint: 'Scan to PNG or TIFF, grey or colour (RGB), one picture a file, at most 600 million pixels.',
    });
  if (bytes.length === 0) throw refused('the file is empty');
  const { default: sharp } = await import('sharp');
  const open = (): Sharp => sharp(bytes, { failOn: 'warning', limitInputPixels: MOST_PX, sequentialRead: true });
  const said = (error: Error): Promise<never> => Promise.reject(refused(error.message.split('\n')[0]));
  const meta = await open().metadata().catch(said);
  const why = unfitFor(meta);
  if (why) throw refused(why);
  const { dots, size } = evenly(meta, dpi ? { x: dpi.x / 25.4, y: dpi.y / 25.4 } : await stated(bytes, meta));
  const { channels = 1 } = meta;
  const decode: Decode = (channel) => one(open(), channel, size);
  const decoding = channels < 3 ? decode(0) : usual === undefined ? clearest(open(), decode) : decode(usual);
  const loaded = decoding.then(
    ({ picture, channel }) => ({ picture: { ...picture, ...(dots ? { dotsPerMm: dots } : {}) }, channel }),
    said,
  );
  // What is wrong with it is told to whom it is handed.
  loaded.catch(() => undefined);
  return { loaded };
}

/** A picture that does not say how large it is. */
export function noSize(file: string, hint: string): InputError {
  const message = 'the file does not say its resolution.';
  return new InputError({ code: 'SCAN_NO_SIZE', place: { file }, message, hint });
}

type Decode = (channel: Channel) => Promise<LoadedPicture>;

/** Levels of inks, or of a colour space of the eye, are no measure of light however they are turned into grey. */
function unfitFor({ space, depth, pages = 1 }: Metadata): string | undefined {
  if (pages > 1) return `the file holds ${pages} pictures, and which of them is meant is not known`;
  if (space === 'cmyk' || space === 'lab') return `its colours are ${space.toUpperCase()}, not light`;
  if (depth !== 'uchar' && depth !== 'ushort') return `its levels are not whole numbers of 8 or 16 bit (${depth})`;
  return undefined;
}

/** As the file says, where that is more than what programs write that know nothing. */
async function stated(bytes: Uint8Array, meta: Metadata): Promise<PerAxis | undefined> {
  const { facts } = await import('../../artwork/image/decode/by-sharp.js');
  const { pngResolution } = await import('../../artwork/image/decode/png.js');
  const known = meta.format === 'png' ? { resolution: pngResolution(bytes) } : {};
  const { resolution } = facts(bytes, meta.format ?? '', meta, known);
  if (!resolution || 25.4 * Math.min(resolution.perMmX, resolution.perMmY) < LEAST_STATED_DPI) return undefined;
  return { x: resolution.perMmX, y: resolution.perMmY };
}

/** Dots that are longer than wide are joined until they are about square. */
function evenly(
  { width, height }: Metadata,
  dots: PerAxis | undefined,
): { readonly dots?: PerAxis; readonly size?: { readonly width: number; readonly height: number } } {
  if (!dots || Math.max(dots.x / dots.y, dots.y / dots.x) < SQUARE) return { dots };
  const least = Math.min(dots.x, dots.y);
  const size = { width: Math.round((width * least) / dots.x), height: Math.round((height * least) / dots.y) };
  return { size, dots: { x: (dots.x * size.width) / width, y: (dots.y * size.height) / height } };
}

/** Of 16 bit the upper eight: half a level is a hundredth of a dot at an edge, and a sheet of A4 takes half the memory. */
async function one(
  image: Sharp,
  channel: Channel,
  size: { readonly width: number; readonly height: number } | undefined,
): Promise<LoadedPicture> {
  const whole = image.removeAlpha().extractChannel(channel);
  const levels = (size ? whole.resize({ ...size, fit: 'fill' }) : whole).raw({ depth: 'uchar' });
  const { data, info } = await levels.toBuffer({ resolveWithObject: true });
  return { picture: { widthPx: info.width, heightPx: info.height, levels: data }, channel };
}

/** The channel whose levels lie farthest apart. While that is looked for one is decoded that it mostly is. */
async function clearest(image: Sharp, decode: Decode): Promise<LoadedPicture> {
  const [spreads, likely] = await Promise.all([spreadOfChannels(image), decode(GREEN)]);
  const channel = spreads.indexOf(Math.max(...spreads)) as Channel;
  return spreads[channel] < ALIKE * spreads[GREEN] ? likely : decode(channel);
}

async function spreadOfChannels(image: Sharp): Promise<number[]> {
  const { default: sharp } = await import('sharp');
  const small = image.resize(SMALL_PX, SMALL_PX, { fit: 'inside' }).removeAlpha().raw({ depth: 'uchar' });
  const { data, info } = await small.toBuffer({ resolveWithObject: true });
  const { channels } = await sharp(data, { raw: info }).stats();
  return channels.map(({ stdev }) => stdev ** 2);
}
