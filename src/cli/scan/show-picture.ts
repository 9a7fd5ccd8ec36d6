import { svgToPng } from '../../report/picture.js';
import { type ScanPicture, scanPictureSvg } from '../../report/scan-picture.js';
import type { GreyPicture } from '../../scan/picture/picture.js';

/** Width of the picture that is looked at without a browser. */
const PNG_PX = 1800;

/** A picture of a scanner made small enough to be shown, and how large it was. */
export interface Shown {
  readonly jpeg: Uint8Array;
  readonly widthPx: number;
  readonly heightPx: number;
}

export async function shownAs(
  { widthPx, heightPx }: Pick<GreyPicture, 'widthPx' | 'heightPx'>,
  overview: GreyPicture,
): Promise<Shown> {
  const { default: sharp } = await import('sharp');
  const raw = { width: overview.widthPx, height: overview.heightPx, channels: 1 } as const;
  const jpeg = await sharp(Uint8Array.from(overview.levels), { raw }).jpeg({ quality: 70 }).toBuffer();
  return { jpeg, widthPx, heightPx };
}

/** The same thing twice: an SVG to be looked at closely, with the picture in it, and a PNG. */
export async function drawnUpon(
  { jpeg, widthPx, heightPx }: Shown,
  drawing: Pick<ScanPicture, 'marks' | 'outlines'>,
): Promise<{ readonly svg: string; readonly png: Uint8Array }> {
  const { default: sharp } = await import('sharp');
  const size = { widthPx, heightPx, ...drawing };
  const preview = { mime: 'image/jpeg', base64: Buffer.from(jpeg).toString('base64') } as const;
  // The renderer of drawings takes ten times as long over a picture as a decoder does.
  const over = await svgToPng(scanPictureSvg(size), PNG_PX);
  const { width, height } = await sharp(over).metadata();
  const png = await sharp(jpeg)
    .resize(width, height, { fit: 'fill' })
    .toColourspace('srgb')
    .composite([{ input: Buffer.from(over) }])
    // A scan's noise hardly packs: more than this takes twice as long for a tenth.
    .png({ compressionLevel: 3 })
    .toBuffer();
  return { svg: scanPictureSvg({ ...size, preview }), png };
}
