import { InputError } from '../errors.js';
import { checkOptions } from '../export/check.js';
import { isRaster } from '../export/export-formats.js';
import type { WriteOptions, Written } from '../export/types.js';
import { type DotLooks, writeArtwork, writeDots } from '../export/write.js';
import { checkGiven, needed, objectOf } from '../given.js';
import type { Commanded } from './command.js';

/**
 * Writes what the machine is commanded: dots as they were chosen, or paths.
 *
 * @param stencil - from {@link makeStencil}, made for this format
 * @throws {InputError} BAD_VALUE for what is no stencil or no format; NOT_MADE_FOR_FORMAT; what {@link writeArtwork} throws
 * @example (await writeStencil(makeStencil(artwork, profile), { format: 'png' })).rounding
 */
export async function writeStencil(stencil: { readonly commanded: Commanded }, looks: DotLooks): Promise<Written> {
  checkGiven('stencil', stencil, { commanded: needed(objectOf({ frame: objectOf({}), sweep: objectOf({}) })) });
  const { commanded } = stencil;
  const { paths, dots, frame, sweep, uncorrected } = commanded;
  const options: WriteOptions = { ...looks, ...frame, ...sweep };
  checkOptions(options, (dots?.image.placed ?? uncorrected).length);
  if (isRaster(looks.format) && dots) {
    return writeDots(dots.image, looks);
  }
  if (!isRaster(looks.format) && paths) return writeArtwork([...paths.openings, ...uncorrected], options);
  throw new InputError({
    code: 'NOT_MADE_FOR_FORMAT',
    place: { key: 'format' },
    message: `the stencil was made without ${isRaster(looks.format) ? 'dots' : 'paths'}, which ${looks.format} is written from.`,
    hint: 'Name the format in `formats` of makeStencil.',
  });
}
