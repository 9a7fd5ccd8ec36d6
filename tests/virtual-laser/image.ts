import sharp from 'sharp';
import type { DarkPixels } from './film.js';

/** Decodes a black-and-white image; dark pixels are burnt. */
export async function darkPixels(bytes: Uint8Array): Promise<DarkPixels> {
  const { data, info } = await sharp(bytes, { limitInputPixels: false })
    .greyscale()
    .raw()
    .toBuffer({ resolveWithObject: true });
  const dark = new Uint8Array(info.width * info.height);
  for (let i = 0; i < dark.length; i += 1) dark[i] = data[i * info.channels] < 128 ? 1 : 0;
  return { width: info.width, height: info.height, dark };
}
