import type { ArtworkFormat } from '../../types.js';
import type { PixelSource } from '../source.js';
import { openBmp } from './bmp.js';
import { openPng } from './png.js';

/** Opens an image file of any format that is read. @throws {InputError} IMAGE_DAMAGED, IMAGE_UNSUPPORTED, IMAGE_TOO_LARGE */
export async function openImage(
  bytes: Uint8Array,
  format: ArtworkFormat,
  file: string | undefined,
): Promise<PixelSource> {
  if (format === 'bmp') return openBmp(bytes, file);
  const { openDecoded } = await import('./decoded.js');
  if (format !== 'png') return openDecoded(bytes, format, file);
  const png = openPng(bytes, file);
  return png.interlaced ? openDecoded(bytes, 'png', file, png) : png;
}
