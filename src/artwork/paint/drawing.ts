import { InputError, type Warning } from '../../errors.js';
import { counterClockwise, mapOpening, mapRing, orient, scaling } from '../../geometry/affine.js';
import { openingArea, ringArea } from '../../geometry/area.js';
import { intersectRegions } from '../../geometry/boolean.js';
import { boxDistance, boxWithin, commonBox, ringBounds } from '../../geometry/bounds.js';
import { boxIndex } from '../../geometry/box-index.js';
import { NO_AREA_MM2 } from '../../geometry/clean.js';
import { isConvex } from '../../geometry/convex.js';
import { DisjointSets } from '../../geometry/disjoint-sets.js';
import { rectangle, solid } from '../../geometry/shapes.js';
import type { Affine, Box, OpeningTag, Point, Region, Ring } from '../../geometry/types.js';
import { present } from '../../kept.js';
import { type Pen, strokePolyline } from './stroke.js';
import { CURVE_TOLERANCE_MM, controlPoints, flatten, mapSubpath, type Polyline, type Subpath } from './subpath.js';
import { unionOfRings } from './unite.js';

/** A colour with its opacity, each 0 to 1. */
export interface Colour {
  readonly r: number;
  readonly g: number;
  readonly b: number;
  readonly a: number;
}

export const BLACK: Colour = { r: 0, g: 0, b: 0, a: 1 };

/** One painted object, in the order of painting; mm, y up, canvas at the origin. */
export interface Paint {
  readonly colour: Colour;
  readonly regions: readonly Region[];
  readonly tag: OpeningTag;
  /** Of a stroke: its centre lines and width. */
  readonly lines?: { readonly polylines: readonly Polyline[]; readonly widthMm: number };
}

/** What painting is limited to. */
export interface Clip {
  readonly regions: readonly Region[];
  /** Set when the clip is exactly this axis-parallel box. */
  readonly box?: Box;
}

/** Files that need more corners than this are refused rather than read for minutes. */
const MAX_POINTS = 4_000_000;
/** No laser bed is larger, mm. */
const MAX_COORDINATE_MM = 20_000;
/** A finer polygon for the centre lines of strokes: the error of the outer wall grows with the width. */
const STROKE_TOLERANCE_MM = CURVE_TOLERANCE_MM / 4;

/** Gathers what a vector format paints. */
export class Drawing {
  readonly paints: Paint[] = [];
  private points = 0;
  private far = false;

  constructor(private readonly file: string | undefined) {}

  /** What was left out, in words. */
  warnings(): Warning[] {
    return present(
      this.far && {
        code: 'OUTSIDE_CANVAS',
        place: { file: this.file },
        message: `shapes that lie more than ${MAX_COORDINATE_MM / 1000} m off, or are not numbers, were left out.`,
      },
    );
  }

  fill(subpaths: readonly Subpath[], map: Affine, rule: FillRule, colour: Colour, tag: OpeningTag, clip?: Clip): void {
    const regions = this.clipped(this.regionsOf(subpaths, map, rule), clip);
    if (regions.length > 0) this.paints.push({ colour, regions, tag });
  }

  /** What a filled path covers, mm; for clips too. */
  regionsOf(subpaths: readonly Subpath[], map: Affine, rule: FillRule): Region[] {
    const lines = this.polylines(subpaths, map, CURVE_TOLERANCE_MM);
    return fillRings(
      lines.map(({ points }) => points),
      rule,
    );
  }

  /** @param pen - lengths in the path's own unit, before `map` */
  stroke(subpaths: readonly Subpath[], map: Affine, pen: Pen, colour: Colour, tag: OpeningTag, clip?: Clip): void {
    // Stroke in a space that is only scaled, then apply what is left of the map: a pen may become an ellipse.
    const scale = largestStretch(map);
    if (!(scale > 0)) return;
    const rest: Affine = { ...map, a: map.a / scale, b: map.b / scale, c: map.c / scale, d: map.d / scale };
    const isTurn = Math.abs(Math.abs(rest.a * rest.d - rest.b * rest.c) - 1) < 1e-9;
    const first = isTurn ? map : scaling(scale);
    const scaled: Pen = {
      ...pen,
      widthMm: pen.widthMm * scale,
      dashMm: pen.dashMm.map((length) => length * scale),
      dashOffsetMm: pen.dashOffsetMm * scale,
    };
    const polylines = this.polylines(subpaths, first, STROKE_TOLERANCE_MM);
    if (scaled.widthMm > MAX_COORDINATE_MM) this.far = true;
    const raw = scaled.widthMm > MAX_COORDINATE_MM ? [] : polylines.flatMap((line) => strokePolyline(line, scaled));
    const placed = isTurn ? raw : raw.map((region) => mapOpening(rest, region));
    const regions = this.clipped(
      placed.filter(({ outer }) => this.isNear(outer)),
      clip,
    );
    if (regions.length === 0) return;
    for (const { outer } of regions) this.count(outer.length);
    const lines = isTurn ? polylines : polylines.map((line) => ({ ...line, points: mapRing(rest, line.points) }));
    this.paints.push({ colour, regions, tag, lines: { polylines: lines, widthMm: scaled.widthMm } });
  }

  private clipped(regions: readonly Region[], clip: Clip | undefined): Region[] {
    return clip ? regions.flatMap((region) => clipRegion(region, clip)) : [...regions];
  }

  private polylines(subpaths: readonly Subpath[], map: Affine, toleranceMm: number): Polyline[] {
    return subpaths.flatMap((subpath) => {
      const placed = mapSubpath(map, subpath);
      if (!this.isNear([placed.start, ...placed.segments.flatMap(controlPoints)])) return [];
      const line = flatten(placed, toleranceMm, MAX_POINTS - this.points);
      this.count(line.points.length);
      return [line];
    });
  }

  private count(points: number): void {
    this.points += points;
    if (this.points <= MAX_POINTS) return;
    throw new InputError({
      code: 'TOO_COMPLEX',
      place: { file: this.file },
      message: `the drawing needs more than ${MAX_POINTS} corners.`,
      hint: 'Export only the paste layer.',
    });
  }

  private isNear(points: readonly Point[]): boolean {
    const near = points.every(([x, y]) => Math.abs(x) <= MAX_COORDINATE_MM && Math.abs(y) <= MAX_COORDINATE_MM);
    if (!near) this.far = true;
    return near;
  }
}

/** Largest singular value: how much the map stretches at most. */
export function largestStretch({ a, b, c, d }: Affine): number {
  const sum = a * a + b * b + c * c + d * d;
  const det = a * d - b * c;
  return Math.sqrt((sum + Math.sqrt(Math.max(0, sum * sum - 4 * det * det))) / 2);
}

/** The part of a region within a clip; the region itself, to the last digit, when nothing is cut off. */
export function clipRegion(region: Region, clip: Clip): Region[] {
  const box = ringBounds(region.outer);
  if (clip.box && boxWithin(box, clip.box, 1e-9)) return [region];
  const near = clip.regions.filter(({ outer }) => boxDistance(ringBounds(outer), box) === 0);
  if (near.length === 0) return [];
  const cut = intersectRegions([region], near);
  const area = openingArea(region);
  const left = cut.reduce((sum, part) => sum + openingArea(part), 0);
  // The clipper rounds to nanometres; a difference of that size is no cut.
  const rounding = 4e-6 * (box.maxX - box.minX + box.maxY - box.minY);
  return Math.abs(area - left) <= rounding ? [region] : cut;
}

/** What two clips leave together. */
export function intersectClips(p: Clip | undefined, q: Clip): Clip {
  if (!p) return q;
  if (p.box && q.box) {
    const { minX, minY, maxX, maxY } = commonBox(p.box, q.box);
    return maxX > minX && maxY > minY ? clipOf([solid(rectangle(minX, minY, maxX, maxY))]) : { regions: [] };
  }
  return clipOf(intersectRegions(p.regions, q.regions));
}

/** A clip from regions; recognises boxes, the usual case. */
export function clipOf(regions: readonly Region[]): Clip {
  if (regions.length !== 1 || regions[0].islands.length > 0) return { regions };
  const [{ outer }] = regions;
  const box = ringBounds(outer);
  // A right-angled turn by sine and cosine leaves corners off by the last digits.
  const same = (p: number, q: number): boolean => Math.abs(p - q) < 1e-9;
  const onBox = outer.every(
    ([x, y]) => (same(x, box.minX) || same(x, box.maxX)) && (same(y, box.minY) || same(y, box.maxY)),
  );
  return onBox && outer.length === 4 ? { regions, box } : { regions };
}

export type FillRule = 'nonzero' | 'evenodd';

/**
 * What a path fills. Convex rings that lie apart keep their points to the last digit; the others go through the clipper.
 *
 * @param rings - mm, any direction; open paths count as closed
 */
export function fillRings(rings: readonly Ring[], rule: FillRule): Region[] {
  const solid = rings.map(withoutRepeats).filter((ring) => ring.length >= 3);
  if (solid.length === 1) return fillCluster(solid, rule);
  const boxes = solid.map(ringBounds);
  return clusters(boxes).flatMap((members) =>
    fillCluster(
      members.map((i) => solid[i]),
      rule,
    ),
  );
}

function fillCluster(group: readonly Ring[], rule: FillRule): Region[] {
  if (group.length === 1 && isConvex(counterClockwise(group[0]))) return region(group[0], []);
  return unionOfRings(group, rule).filter(hasArea);
}

const hasArea = ({ outer }: Region): boolean => Math.abs(ringArea(outer)) > NO_AREA_MM2;

function region(outer: Ring, islands: readonly Ring[]): Region[] {
  return Math.abs(ringArea(outer)) <= NO_AREA_MM2 ? [] : [orient({ outer, islands })];
}

function withoutRepeats(ring: Ring): Ring {
  const kept = ring.filter((p, i) => {
    const q = ring[(i + 1) % ring.length];
    return p[0] !== q[0] || p[1] !== q[1];
  });
  return kept.length === ring.length ? ring : kept;
}

/** Groups of rings whose boxes meet, directly or through others. */
function clusters(boxes: readonly Box[]): number[][] {
  if (boxes.length <= 1) return boxes.map((_, i) => [i]);
  const sets = new DisjointSets(boxes.length);
  boxIndex(boxes, (box) => box).eachPair((i, j) => {
    if (boxDistance(boxes[i], boxes[j]) === 0) sets.join(i, j);
  });
  return sets.groups();
}
