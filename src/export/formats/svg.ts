import { mapPoint } from '../../geometry/affine.js';
import { copyOf } from '../../geometry/copies.js';
import { simplifyRing } from '../../geometry/simplify.js';
import type { Point, Region } from '../../geometry/types.js';
import { escapeXml } from '../../text.js';
import { shortMm } from '../export-formats.js';
import type { Placement } from '../types.js';

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
  const draw = pathWriter({ at: (p) => mapPoint(flip, p), decimals: 5, finestMm: 0 });
  openings.forEach((opening, i) => {
    lines.push(`<path id="opening-${i + 1}" d="${draw(opening)}"/>`);
  });
  lines.push('</g>', '</svg>', '');
  return Buffer.from(lines.join('\n'));
}

/** How regions are drawn. */
export interface PathPen {
  /** From mm to the drawing's own units; an affine map. */
  readonly at: (mm: Point) => Point;
  readonly decimals: number;
  /** Corners nearer to their neighbours' line than this are left out, mm; 0: none is. */
  readonly finestMm: number;
}

/**
 * Writes regions as data of SVG paths. Rings are steps from their first corner, so that all copies of a shape share one
 * text, and stay alike to the last digit.
 */
export function pathWriter(pen: PathPen): (region: Region) => string {
  const { at } = pen;
  const round = rounding(pen.decimals);
  const known = new Map<Region, Steps>();
  return (region) => {
    const copy = copyOf(region);
    const shape = copy?.shape ?? region;
    const steps = known.get(shape) ?? stepsOf(shape, pen);
    if (copy) known.set(shape, steps);
    const [fromX, fromY] = steps.from;
    const [x, y] = at([fromX + (copy?.dx ?? 0), fromY + (copy?.dy ?? 0)]);
    return `M${round(x)} ${round(y)}${steps.words}`;
  };
}

/** All rings of a region, from the corner where the outer ring begins. */
interface Steps {
  readonly from: Point;
  readonly words: string;
}

function stepsOf({ outer, islands }: Region, { at, decimals, finestMm }: PathPen): Steps {
  const round = rounding(decimals);
  const rings = [outer, ...islands].map((ring) => (finestMm > 0 ? simplifyRing(ring, finestMm) : ring));
  const [from] = rings[0];
  const [x0, y0] = at(from);
  // Places are rounded, not steps, so that nothing adds up on the way round.
  const places = rings.map((ring) =>
    ring.map((p): Point => {
      const [x, y] = at(p);
      return [round(x - x0), round(y - y0)];
    }),
  );
  const step = (p: Point, q: Point): string => `${round(q[0] - p[0])} ${round(q[1] - p[1])}`;
  const words = places.map((ring, r) => {
    // A ring ends where it began, and there the next one is counted from.
    const begin = r === 0 ? '' : `m${step(places[r - 1][0], ring[0])}`;
    const lines = ring.slice(1).map((p, i) => step(ring[i], p));
    return `${begin}l${lines.join(' ')}z`;
  });
  return { from, words: words.join('') };
}

/** Rounds to so many decimals; a zero has no sign. */
function rounding(decimals: number): (value: number) => number {
  const steps = 10 ** decimals;
  return (value) => Math.round(value * steps) / steps + 0;
}
