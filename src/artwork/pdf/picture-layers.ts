import type { PDFDict, PDFObject, PDFRawStream } from 'pdf-lib';
import { lacksFaxEnd } from './fax-end.js';
import type { Objects } from './objects.js';
import type { PictureRenderer } from './picture-renderer.js';
import { isEven, isStencil, type PictureSamples, pictureSamples } from './picture-samples.js';

/** Several bytes a pixel are needed to put a mask on a picture. */
const MAX_MASKED_PIXELS = 60_000_000;

/** A picture with what its masks leave of it. */
export interface PictureLayers extends PictureSamples {
  /** Its masks are in the samples already, over white paper. */
  readonly isOverWhite: boolean;
  /**
   * Signs that the renderer could not decode all of it: one colour all over, or no end of the data. It says nothing
   * itself.
   */
  readonly doubt?: 'blank' | 'cut off';
}

/**
 * Reads a picture and its masks (ISO 32000-1, section 8.9.6), or has them drawn by the renderer where they are coded in
 * a way of their own.
 *
 * @returns undefined when neither works
 * @throws {DamagedStream} when data are missing
 */
export async function pictureLayers(
  objects: Objects,
  renderer: PictureRenderer,
  stream: PDFRawStream,
  resources: PDFDict | undefined,
): Promise<PictureLayers | undefined> {
  const masks = ['Mask', 'SMask', 'SMaskInData'].filter((key) => isThere(objects.get(stream.dict, key)));
  const own = await ownLayers(objects, stream, resources, masks);
  if (own) return { ...own, isOverWhite: false };
  const drawn = await renderer.draw(stream, resources);
  if (!drawn) return undefined;
  const doubt = lacksFaxEnd(objects, stream) ? 'cut off' : isEven(drawn.grey) ? 'blank' : undefined;
  return { ...drawn, isOverWhite: masks.length > 0, doubt };
}

const isThere = (value: PDFObject | undefined): boolean => value !== undefined && String(value) !== '0';

async function ownLayers(
  objects: Objects,
  stream: PDFRawStream,
  resources: PDFDict | undefined,
  masks: readonly string[],
): Promise<PictureSamples | undefined> {
  const picture = await pictureSamples(objects, stream, resources);
  if (!picture || masks.length === 0) return picture;
  if (picture.grey.length > MAX_MASKED_PIXELS) return undefined;
  // A soft mask overrides the others (table 89).
  const key = masks.includes('SMask') ? 'SMask' : masks[0];
  if (key === 'SMaskInData') return undefined;
  const mask = objects.get(stream.dict, key);
  if (objects.array(mask)) return picture.alpha ? picture : undefined;
  if (!(mask instanceof objects.lib.PDFRawStream) || objects.get(mask.dict, 'Matte') !== undefined) return undefined;
  if (isStencil(objects, mask.dict) !== (key === 'Mask')) return undefined;
  const samples = await pictureSamples(objects, mask, resources);
  // A stencil's black is where the picture is painted, a soft mask's white.
  const alpha = samples && (key === 'Mask' ? samples.grey.map((value) => 255 - value) : samples.grey);
  return samples && alpha && onOneGrid(picture, { ...samples, grey: alpha });
}

/** A picture and its mask on the finer one's pixels; undefined unless those fit into the other's. */
function onOneGrid(picture: PictureSamples, mask: PictureSamples): PictureSamples | undefined {
  const width = Math.max(picture.width, mask.width);
  const height = Math.max(picture.height, mask.height);
  const fit =
    width * height <= MAX_MASKED_PIXELS &&
    [picture, mask].every((each) => width % each.width === 0 && height % each.height === 0);
  if (!fit) return undefined;
  return {
    width,
    height,
    grey: repeated(picture, width, height),
    alpha: repeated(mask, width, height),
    isBits: picture.isBits && mask.isBits,
  };
}

function repeated({ width, height, grey }: PictureSamples, toWidth: number, toHeight: number): Uint8Array {
  if (width === toWidth && height === toHeight) return grey;
  const out = new Uint8Array(toWidth * toHeight);
  const [across, down] = [toWidth / width, toHeight / height];
  for (let y = 0, i = 0; y < toHeight; y += 1) {
    const row = Math.floor(y / down) * width;
    for (let x = 0; x < toWidth; x += 1, i += 1) out[i] = grey[row + Math.floor(x / across)];
  }
  return out;
}
