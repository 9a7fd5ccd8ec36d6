import { erodeConvex, isConvex, nearlyConvex } from '../geometry/convex.js';
import { offsetByEllipse } from '../geometry/offset.js';
import type { Region, Ring } from '../geometry/types.js';

/** An outline may dip below its hull by this and still pass for convex, mm: a fiftieth of a dot at 1000 dpi. */
const DIP_MM = 5e-4;

/** The outline of a region without islands that is convex but for the wobble of a traced image. */
export function convexOutline({ outer, islands }: Region): Ring | undefined {
  if (islands.length > 0) return undefined;
  return isConvex(outer) ? outer : nearlyConvex(outer, DIP_MM);
}

/** T ⊖ E: where the beam may be told to go so that nothing outside T is burnt. Empty when T is narrower than the kerf. */
export function shrink(region: Region, kerfXMm: number, kerfYMm: number): Region[] {
  if (kerfXMm <= 0 && kerfYMm <= 0) return [region];
  const hull = convexOutline(region);
  if (hull) {
    const outer = erodeConvex(hull, kerfXMm, kerfYMm);
    return outer.length >= 3 ? [{ outer, islands: [] }] : [];
  }
  return offsetByEllipse(region, kerfXMm, kerfYMm, -1);
}
