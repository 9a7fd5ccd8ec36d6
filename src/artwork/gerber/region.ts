import { counterClockwise } from '../../geometry/affine.js';
import { ringArea } from '../../geometry/area.js';
import { isConvex } from '../../geometry/convex.js';
import { solid } from '../../geometry/shapes.js';
import type { Point, Region } from '../../geometry/types.js';
import { unionOfRings, unite } from '../paint/clip.js';
import { isPlainMap, mapCoordinate } from './coordinates.js';
import type { LayerState } from './layer-state.js';

/** Ends of a contour nearer than this are one point, mm. */
const CLOSED_MM = 1e-6;
/** A contour whose fillings differ by more than this share crosses itself. */
const SELF_CROSSING = 1e-6;

/** Ends a region (G37): fills its contours one by one and paints their union. */
export function endRegion(layer: LayerState, line: number): void {
  const contours = (layer.region ?? []).filter((contour) => contour.length > 1);
  layer.region = undefined;
  const rings = contours.map((contour) => closedRing(layer, contour, line)).filter((ring) => ring.length >= 3);
  // Each contour is filled on its own, and the fillings are united: the direction of a contour means nothing.
  const fillings = rings.flatMap((ring) => fillContour(layer, ring, line));
  const regions = rings.length === 1 ? fillings : unite(fillings);
  if (regions.length === 0) {
    layer.notes.warn('REGION_EMPTY', line, 'a region (G36 to G37) encloses no area.');
    return;
  }
  layer.sink.add(
    {
      dark: layer.dark,
      regions,
      tag: { ...layer.attributes.regionTag(), drawn: 'region', line },
      ...(layer.keepLines ? { contours: rings } : {}),
    },
    line,
  );
}

function closedRing(layer: LayerState, contour: readonly Point[], line: number): Point[] {
  const [first, last] = [contour[0], contour[contour.length - 1]];
  const gapMm = Math.hypot(first[0] - last[0], first[1] - last[1]);
  if (gapMm > CLOSED_MM) {
    layer.notes.warn(
      'CONTOUR_OPEN',
      line,
      `a contour ends ${gapMm.toFixed(3)} mm from where it begins; it is closed with a straight line.`,
    );
  }
  const ring = gapMm > CLOSED_MM ? [...contour] : contour.slice(0, -1);
  const distinct = ring.filter((p, i) => i === 0 || p[0] !== ring[i - 1][0] || p[1] !== ring[i - 1][1]);
  return isPlainMap(layer.coordinates) ? distinct : distinct.map((p) => mapCoordinate(layer.coordinates, p));
}

function fillContour(layer: LayerState, ring: readonly Point[], line: number): Region[] {
  const area = ringArea(ring);
  const turned = counterClockwise(ring);
  // Most contours are lands: convex ones need no clipper and keep their points to the last digit.
  if (area !== 0 && isConvex(turned)) return [solid(turned)];
  const regions = unionOfRings([ring]);
  const filled = regions.reduce(
    (sum, r) => sum + ringArea(r.outer) + r.islands.reduce((s, i) => s + ringArea(i), 0),
    0,
  );
  if (filled - Math.abs(area) > SELF_CROSSING * Math.max(filled, 1e-3)) {
    layer.notes.warn(
      'CONTOUR_CROSSES',
      line,
      'a contour crosses itself, which the standard forbids; all that it winds around is filled.',
    );
  }
  return regions;
}
