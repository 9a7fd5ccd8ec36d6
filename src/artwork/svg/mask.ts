import { subtractRegions, unionRegions } from '../../geometry/boolean.js';
import type { Region } from '../../geometry/types.js';
import type { Colour } from '../paint/drawing.js';
import { type Style, withOpacity } from './style.js';

/** Shares of red, green and blue in what a mask lets through (SVG 1.1, 14.4 Masking). */
const LUMINANCE = { r: 0.2125, g: 0.7154, b: 0.0721 };
const NEARLY = 0.02;

/**
 * Whether a shape of a mask shows (1) or hides (0) what it lies on; undefined for anything between, which is no cut but
 * a shade.
 *
 * @param style - the shape's own
 * @param colour - what it is filled with
 */
export function shows(style: Style, colour: Colour, byAlpha: boolean): 0 | 1 | undefined {
  const { a } = withOpacity(withOpacity(colour, style.opacity), style['fill-opacity']);
  if (a < 1 - NEARLY) return undefined;
  if (byAlpha) return 1;
  const light = LUMINANCE.r * colour.r + LUMINANCE.g * colour.g + LUMINANCE.b * colour.b;
  return light >= 1 - NEARLY ? 1 : light <= NEARLY ? 0 : undefined;
}

/** What a mask's shapes let through together, painted in their order: white adds, black takes away. */
export function shownBy(parts: readonly { readonly shown: 0 | 1; readonly regions: readonly Region[] }[]): Region[] {
  let all: Region[] = [];
  for (const { shown, regions } of parts) {
    if (shown === 1) all = all.length === 0 ? [...regions] : unionRegions(all.concat(regions));
    else if (all.length > 0) all = subtractRegions(all, regions);
  }
  return all;
}
