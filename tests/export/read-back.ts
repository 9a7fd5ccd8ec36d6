import { PDFiumLibrary } from '@hyzyla/pdfium';
import { Resvg } from '@resvg/resvg-js';
import { decode as decodeBmp } from 'fast-bmp';
import sharp from 'sharp';

/** A picture as an independent library sees it: one byte a dot, 0 dark to 255. */
export interface Picture {
  readonly width: number;
  readonly height: number;
  readonly grey: Uint8Array;
}

/** PNG and TIFF by libvips. */
export async function bySharp(bytes: Uint8Array): Promise<Picture> {
  const { data, info } = await sharp(bytes, { limitInputPixels: false })
    .greyscale()
    .extractChannel(0)
    .raw()
    .toBuffer({ resolveWithObject: true });
  return { width: info.width, height: info.height, grey: new Uint8Array(data) };
}

/** BMP by fast-bmp. */
export function byFastBmp(bytes: Uint8Array): Picture & { readonly perMetre: readonly [number, number] } {
  const { width, height, data, xPixelsPerMeter, yPixelsPerMeter } = decodeBmp(bytes);
  const grey = Uint8Array.from(data as Uint8Array, (bit) => bit * 255);
  return { width, height, grey, perMetre: [xPixelsPerMeter ?? 0, yPixelsPerMeter ?? 0] };
}

/** PDF by PDFium, its one page on so many dots. */
export async function byPdfium(bytes: Uint8Array, width: number, height: number): Promise<Picture> {
  const library = await PDFiumLibrary.init();
  try {
    const document = await library.loadDocument(bytes);
    const page = document.getPage(0);
    const { data } = await page.render({ width, height, render: 'bitmap' });
    document.destroy();
    // BGRA
    return { width, height, grey: Uint8Array.from({ length: width * height }, (_, i) => data[4 * i]) };
  } finally {
    library.destroy();
  }
}

/** SVG by resvg on white. */
export function byResvg(bytes: Uint8Array, width: number): Picture {
  const image = new Resvg(new TextDecoder().decode(bytes), {
    fitTo: { mode: 'width', value: width },
    background: '#fff',
  }).render();
  const { pixels } = image;
  const grey = Uint8Array.from({ length: image.width * image.height }, (_, i) => pixels[4 * i]);
  return { width: image.width, height: image.height, grey };
}

/** Dark dots as a drawing: `#` burnt, `.` film. */
export function drawing({ width, height, grey }: Picture): string[] {
  return Array.from({ length: height }, (_, row) =>
    Array.from(grey.subarray(row * width, (row + 1) * width), (v) => (v < 128 ? '#' : '.')).join(''),
  );
}

/** Sum of darkness in dots: the area that is burnt, also where edges are smoothed. */
export function darkness({ grey }: Picture): number {
  return grey.reduce((sum, v) => sum + (255 - v) / 255, 0);
}
