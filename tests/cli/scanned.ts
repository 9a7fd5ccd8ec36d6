import sharp from 'sharp';
import type { Picture } from '../scan/virtual-scanner.js';

/** A desktop scanner, a little off in both directions. */
export const SCANNER = { blurMm: 0.025, film: 215, open: 40, vignette: 0.2, noise: 2, scaleX: 0.9985, scaleY: 1.0012 };

/** A picture as scanners write it; `dpi`: what its file says, which may be nothing. */
export function scannedPng(
  { widthPx, heightPx, levels, dotsPerMm }: Picture,
  { dpi = 25.4 * dotsPerMm.x }: { readonly dpi?: number | 'unsaid' } = {},
): Promise<Buffer> {
  const picture = sharp(levels, { raw: { width: widthPx, height: heightPx, channels: 1 } });
  return (dpi === 'unsaid' ? picture : picture.withMetadata({ density: dpi })).png({ compressionLevel: 1 }).toBuffer();
}

/** A rectangle by its lower left corner and its size, mm. */
export type Pad = readonly [x: number, y: number, width: number, height: number];

/** Pads as a drawing. */
export function padsSvg(pads: readonly Pad[], widthMm: number, heightMm: number): string {
  const rects = pads.map(([x, y, w, h]) => `<rect x="${x}" y="${heightMm - y - h}" width="${w}" height="${h}"/>`);
  return `<svg xmlns="http://www.w3.org/2000/svg" width="${widthMm}mm" height="${heightMm}mm" viewBox="0 0 ${widthMm} ${heightMm}">${rects.join('')}</svg>`;
}
