import type { OrientedBox } from '../geometry/oriented-box.js';
import type { Region } from '../geometry/types.js';

export const SHAPE_CLASSES = ['round', 'square', 'rectangle', 'rounded', 'obround', 'ring', 'odd'] as const;

/** Family of an opening by its geometry: `rounded` is a rectangle with rounded corners, `ring` holds islands. */
export type ShapeClass = (typeof SHAPE_CLASSES)[number];

/** Areas and perimeters must agree this well with a family's formula. Traced outlines wobble by about 1 %. */
const TOLERANCE = 0.012;

const near = (value: number, wanted: number): boolean => Math.abs(value - wanted) <= TOLERANCE * wanted;

/** Finds the family from box, area and perimeter: each family has a formula for both. */
export function shapeClass(region: Region, box: OrientedBox, areaMm2: number, perimeterMm: number): ShapeClass {
  if (region.islands.length > 0) return 'ring';
  const { widthMm: w, heightMm: h } = box;
  const boxArea = w * h;
  const short = Math.min(w, h);
  const long = Math.max(w, h);
  if (boxArea <= 0) return 'odd';
  if (near(areaMm2, boxArea) && near(perimeterMm, 2 * (w + h))) return near(short, long) ? 'square' : 'rectangle';
  if (near(short, long) && near(areaMm2, (Math.PI * w * h) / 4) && near(perimeterMm, Math.PI * ((w + h) / 2))) {
    return 'round';
  }
  const obroundArea = (Math.PI * short * short) / 4 + short * (long - short);
  if (near(areaMm2, obroundArea) && near(perimeterMm, Math.PI * short + 2 * (long - short))) return 'obround';
  const radius = Math.sqrt((boxArea - areaMm2) / (4 - Math.PI));
  if (radius < short / 2 && near(perimeterMm, 2 * (w + h) - (8 - 2 * Math.PI) * radius)) return 'rounded';
  return 'odd';
}
