import { mapPoint } from '../../geometry/affine.js';
import type { Region } from '../../geometry/types.js';
import type { Placement } from '../placement.js';
import { shortMm } from './numbers.js';
import { pathWriter } from './path-steps.js';

/** 10 nm. */
const DECIMALS = 5;

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
  if (options.title) lines.push(`<title>${escapeText(options.title)}</title>`);
  if (options.negative)
    lines.push(`<rect id="film" width="${shortMm(widthMm)}" height="${shortMm(heightMm)}" fill="#000"/>`);
  lines.push(`<g id="openings" fill="${options.negative ? '#fff' : '#000'}" fill-rule="evenodd" stroke="none">`);
  const draw = pathWriter({ at: (mm) => mapPoint(flip, mm), decimals: DECIMALS, finestMm: 0 });
  openings.forEach((opening, i) => {
    lines.push(`<path id="opening-${i + 1}" d="${draw(opening)}"/>`);
  });
  lines.push('</g>', '</svg>', '');
  return new TextEncoder().encode(lines.join('\n'));
}

function escapeText(text: string): string {
  return text.replace(/[\u0000-\u0008\u000b\u000c\u000e-\u001f\ufffe\uffff]/g, ' ').replace(/[<&>]/g, (c) => {
    return c === '<' ? '&lt;' : c === '>' ? '&gt;' : '&amp;';
  });
}
