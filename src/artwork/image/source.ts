import { InputError } from '../../errors.js';
import type { CoverageMap } from './trace/coverage-map.js';

/** Dots per millimetre that a file states, and where it says so. */
export interface StatedResolution {
  readonly perMmX: number;
  readonly perMmY: number;
  /** The place in the file, in words: `pHYs chunk`. */
  readonly saidBy: string;
}

/** An opened image, whose pixels are decoded only when they are asked for. */
export interface PixelSource {
  readonly width: number;
  readonly height: number;
  readonly resolution: StatedResolution | undefined;
  /** Height of a pixel divided by its width, where the file gives only that. */
  readonly pixelAspect?: number;
  /** How many pictures the file holds, where it can hold several; the first is read. */
  readonly pictures?: number;
  /** What the decoder complained of although it went on; filled by `decode`. */
  readonly complaints?: ReadonlySet<string>;
  /** How light each pixel is, over white. @throws {InputError} IMAGE_DAMAGED */
  decode(): Promise<CoverageMap>;
  /** How far each pixel can be seen through, where the file says that of any. @throws {InputError} IMAGE_DAMAGED */
  decodeOpacity?(): Promise<CoverageMap>;
}

/** What red, green and blue add to brightness (Rec. ITU-R BT.601). */
export const LUMA_SHARES: [number, number, number] = [0.299, 0.587, 0.114];

/** Brightness of a colour, 0 to 255, with the same shares in 1/65536. */
export function luma(r: number, g: number, b: number): number {
  return (19595 * r + 38470 * g + 7471 * b + 32768) >> 16;
}

/** Brightness of a see-through colour over white. */
export function compositeLuma(r: number, g: number, b: number, alpha: number): number {
  const y = luma(r, g, b);
  return alpha === 255 ? y : Math.round((y * alpha + 255 * (255 - alpha)) / 255);
}

/** Most pixels that are read: an A3 sheet at 2540 dpi has 1.2e9. */
const MAX_PIXELS = 1.2e9;

export function damaged(file: string | undefined, message: string, cause?: unknown): InputError {
  return new InputError(
    {
      code: 'IMAGE_DAMAGED',
      place: { file },
      message,
      hint: 'Export or copy the image again.',
    },
    { cause },
  );
}

export function unsupported(file: string | undefined, message: string): InputError {
  return new InputError({
    code: 'IMAGE_UNSUPPORTED',
    place: { file },
    message,
    hint: 'Save it as a plain PNG, with its resolution.',
  });
}

/** Refuses canvases that nobody could hold in memory, before anything is unpacked. */
export function checkPixelCount(width: number, height: number, file: string | undefined, most = MAX_PIXELS): void {
  if (!(width >= 1 && height >= 1)) throw damaged(file, `the image says it has ${width} x ${height} pixels.`);
  if (width * height <= most) return;
  throw new InputError({
    code: 'IMAGE_TOO_LARGE',
    place: { file },
    message: `the image has ${width} x ${height} pixels, more than the ${most / 1e6} million that are read${most < MAX_PIXELS ? ' of this format' : ''}.`,
    hint:
      most < MAX_PIXELS
        ? 'Save it as a PNG that is not interlaced, or crop it to the board.'
        : 'Export it at a lower resolution, or crop it to the board.',
  });
}

const SHOWN = 8;

/** The first few numbers of openings, for a sentence. */
export function listed(numbers: readonly number[]): string {
  return `${numbers.slice(0, SHOWN).join(', ')}${numbers.length > SHOWN ? ', …' : ''}`;
}
