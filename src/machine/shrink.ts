import { ringArea, ringPerimeter } from '../geometry/area.js';
import { erodeConvex, isConvex, nearlyConvex } from '../geometry/convex.js';
import { erodeByEdges } from '../geometry/erode-by-edges.js';
import { offsetByEllipse } from '../geometry/offset.js';
import type { Region, Ring } from '../geometry/types.js';

/** An outline may dip below its hull by this and still pass for convex, mm: a fiftieth of a dot at 1000 dpi. */
const DIP_MM = 5e-4;

/** The outline of a region without islands that is convex but for the wobble of a traced image. */
function convexOutline({ outer, islands }: Region): Ring | undefined {
  if (islands.length > 0) return undefined;
  return isConvex(outer) ? outer : nearlyConvex(outer, DIP_MM);
}

/** A traced outline may dip below its hull by this and still be convex, mm: a tenth of a dot at 1000 dpi. */
const TRACED_DIP_MM = 2.5e-3;

/** T ⊖ E for an outline so nearly convex that nothing of it is lost but corners; undefined for any other region. */
export function shrinkWhole(region: Region, kerfXMm: number, kerfYMm: number, traced: boolean): Region | undefined {
  const { outer, islands } = region;
  if (islands.length > 0) return undefined;
  const smaller = erodeByEdges(outer, kerfXMm, kerfYMm) ?? (traced ? erodeHull(outer, kerfXMm, kerfYMm) : undefined);
  return smaller && { outer: smaller, islands: [] };
}

/** By the hull, drawn in until it has the outline's area again: the wobble of a tracing is on both sides of the wall. */
function erodeHull(ring: Ring, kerfXMm: number, kerfYMm: number): Ring | undefined {
  const hull = nearlyConvex(ring, TRACED_DIP_MM);
  if (!hull) return undefined;
  const in2 = (2 * (ringArea(hull) - ringArea(ring))) / ringPerimeter(hull);
  return erodeByEdges(hull, kerfXMm + in2, kerfYMm + in2);
}

/** T ⊖ E: where the beam may be told to go so that nothing outside T is burnt. Empty when T is narrower than the kerf. */
export function erode(region: Region, kerfXMm: number, kerfYMm: number): Region[] {
  if (kerfXMm <= 0 && kerfYMm <= 0) return [region];
  const hull = convexOutline(region);
  if (hull) {
    // Edge by edge takes a look at each corner, by half planes at each corner for each edge.
    const outer =
      (hull === region.outer ? undefined : erodeByEdges(hull, kerfXMm, kerfYMm)) ?? erodeConvex(hull, kerfXMm, kerfYMm);
    return outer.length >= 3 ? [{ outer, islands: [] }] : [];
  }
  return offsetByEllipse(region, kerfXMm, kerfYMm, -1);
}
