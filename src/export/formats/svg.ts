import { copyOf } from '../../geometry/copies.js';
import type { Affine, Region } from '../../geometry/types.js';
import { escapeXml } from '../../text.js';
import type { Placement } from '../types.js';
import { shortMm, TextBytes } from './text-bytes.js';

/**
 * A drawing in mm at true size: one path an opening, `opening-1`, `opening-2`, … in the order of the artwork, filled by
 * the even-odd rule.
 */
export function writeSvg(
  openings: readonly Region[],
  { map, widthMm, heightMm }: Placement,
  options: { readonly negative: boolean; readonly title?: string },
): Uint8Array {
  const flip = { ...map, c: -map.c, d: -map.d, f: heightMm - map.f };
  const size = `${shortMm(widthMm)} ${shortMm(heightMm)}`;
  const lines = [
    '<?xml version="1.0" encoding="UTF-8"?>',
    `<svg xmlns="http://www.w3.org/2000/svg" width="${shortMm(widthMm)}mm" height="${shortMm(heightMm)}mm" viewBox="0 0 ${size}">`,
  ];
  if (options.title) lines.push(`<title>${escapeXml(options.title)}</title>`);
  if (options.negative)
    lines.push(`<rect id="film" width="${shortMm(widthMm)}" height="${shortMm(heightMm)}" fill="#000"/>`);
  lines.push(`<g id="openings" fill="${options.negative ? '#fff' : '#000'}" fill-rule="evenodd" stroke="none">`);
  const corners = openings.reduce((sum, opening) => sum + cornersOf(opening), 0);
  const text = new TextBytes(1024 + BYTES_AN_OPENING * openings.length + BYTES_A_CORNER * corners);
  text.add(`${lines.join('\n')}\n`);
  openings.forEach((opening, i) => {
    text.add(`<path id="opening-${i + 1}" d="`);
    addPath(text, opening, flip);
    text.add('"/>\n');
  });
  text.add('</g>\n</svg>\n');
  return text.all();
}

/** Names of 64,000 openings, and corners of beds up to a metre, take no more. */
const BYTES_AN_OPENING = 40;
const BYTES_A_CORNER = 20;

function cornersOf(region: Region): number {
  const { outer, islands } = copyOf(region)?.shape ?? region;
  return islands.reduce((sum, ring) => sum + ring.length, outer.length);
}

/** Of a copy straight from its shape: its own points need not be laid out for that. */
function addPath(text: TextBytes, region: Region, { a, b, c, d, e, f }: Affine): void {
  const { shape, dx, dy } = copyOf(region) ?? { shape: region, dx: 0, dy: 0 };
  for (const ring of [shape.outer, ...shape.islands]) {
    let before = 'M';
    for (const point of ring) {
      const x = point[0] + dx;
      const y = point[1] + dy;
      text.addMm(before, a * x + b * y + e);
      text.addMm(' ', c * x + d * y + f);
      before = 'L';
    }
    text.add('Z');
  }
}
