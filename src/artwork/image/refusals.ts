import { InputError } from '../../errors.js';

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
