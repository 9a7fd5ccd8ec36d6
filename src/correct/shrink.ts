import { erodeConvex, isConvex } from '../geometry/convex.js';
import { offsetByEllipse } from '../geometry/offset.js';
import type { Region } from '../geometry/types.js';

/** T ⊖ E: where the beam may be told to go so that nothing outside T is burnt. Empty when T is narrower than the kerf. */
export function shrink(region: Region, kerfXMm: number, kerfYMm: number): Region[] {
  if (kerfXMm <= 0 && kerfYMm <= 0) return [region];
  if (region.islands.length === 0 && isConvex(region.outer)) {
    const outer = erodeConvex(region.outer, kerfXMm, kerfYMm);
    return outer.length >= 3 ? [{ outer, islands: [] }] : [];
  }
  return offsetByEllipse(region, kerfXMm, kerfYMm, -1);
}
