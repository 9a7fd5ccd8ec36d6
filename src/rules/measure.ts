import { openingArea, openingCentroid, openingPerimeter } from '../geometry/area.js';
import { isConvex } from '../geometry/convex.js';
import { narrowestOwnWeb, narrowestWidth } from '../geometry/narrowest.js';
import { type OrientedBox, orientedBox } from '../geometry/oriented-box.js';
import { ShapeCache } from '../geometry/shape-cache.js';
import { simplifyRing } from '../geometry/simplify.js';
import type { Point, Region, Ring } from '../geometry/types.js';

/** The size of one opening, in its own frame. */
export interface Measure {
  /** Centre of the smallest rectangle around it, mm. */
  readonly centre: Point;
  /** Centre of area, mm. */
  readonly centroid: Point;
  /** Extent along `angleDeg`, mm: the X extent of an upright opening. */
  readonly widthMm: number;
  readonly heightMm: number;
  /** Direction of the width, degrees in (-45, 45]. */
  readonly angleDeg: number;
  readonly lengthMm: number;
  /** The narrowest width anywhere between facing walls, mm. */
  readonly narrowestMm: number;
  readonly areaMm2: number;
  /** All walls, islands included. */
  readonly perimeterMm: number;
  readonly shape: ShapeClass;
  /** The narrowest film that the opening itself leaves between its arms or on an island. */
  readonly ownWebMm?: number;
}

/** Measures openings; equal shapes are worked out once. */
export type Measurer = (opening: Region) => Measure;

/** Shapes that agree to this are one, mm: artwork comes on a grid of 1 nm, and each place rounds a little differently. */
export const SAME_SHAPE_MM = 1e-5;

/** A measurer with a memory of its own. */
export function createMeasurer(): Measurer {
  const shapes = new ShapeCache(measureRegion, SAME_SHAPE_MM);
  return (opening) => {
    const { result, at } = shapes.get(opening);
    return { ...result, centre: movedBy(at, result.centre), centroid: movedBy(at, result.centroid) };
  };
}

const movedBy = ([dx, dy]: Point, [x, y]: Point): Point => [x + dx, y + dy];

/** Bent outlines with more corners than this were traced: their wobble is taken out before widths are looked for. */
const TRACED_CORNERS = 40;
/** At most this much, mm, and at most this share of the smaller extent. */
const WOBBLE_MM = 0.003;
const WOBBLE_SHARE = 0.01;

function withoutWobble(region: Region, box: OrientedBox): Region {
  const tolerance = Math.min(WOBBLE_MM, WOBBLE_SHARE * Math.min(box.widthMm, box.heightMm));
  const smooth = (ring: Ring, solid: Ring): Ring =>
    ring.length <= TRACED_CORNERS || isConvex(solid) ? ring : simplifyRing(ring, tolerance);
  return {
    outer: smooth(region.outer, region.outer),
    islands: region.islands.map((ring) => smooth(ring, ring.toReversed())),
  };
}

/** Measures one opening. Millimetres. */
export function measureRegion(region: Region): Measure {
  const box: OrientedBox = orientedBox(region.outer);
  const areaMm2 = openingArea(region);
  const perimeterMm = openingPerimeter(region);
  const plain = withoutWobble(region, box);
  const shape = shapeClass(plain, box, areaMm2, openingPerimeter(plain));
  // A disc comes as a polygon of its area: its corners lie outside the circle and its sides inside, and it has no angle.
  const discMm = shape === 'round' ? Math.sqrt((4 * areaMm2) / Math.PI) : undefined;
  const widthMm = discMm ?? box.widthMm;
  const heightMm = discMm ?? box.heightMm;
  return {
    centre: box.centre,
    centroid: openingCentroid(region),
    widthMm,
    heightMm,
    angleDeg: discMm === undefined ? box.angleDeg : 0,
    lengthMm: Math.max(widthMm, heightMm),
    narrowestMm: discMm ?? narrowestWidth(plain),
    areaMm2,
    perimeterMm,
    shape,
    ownWebMm: narrowestOwnWeb(plain),
  };
}

export const SHAPE_CLASSES = ['round', 'square', 'rectangle', 'rounded', 'obround', 'ring', 'odd'] as const;

/** Family of an opening by its geometry: `rounded` is a rectangle with rounded corners, `ring` holds islands. */
export type ShapeClass = (typeof SHAPE_CLASSES)[number];

/** Areas and perimeters must agree this well with a family's formula. Traced outlines wobble by about 1 %. */
const TOLERANCE = 0.012;

const near = (value: number, wanted: number): boolean => Math.abs(value - wanted) <= TOLERANCE * wanted;

/** Finds the family from box, area and perimeter: each family has a formula for both. */
function shapeClass(region: Region, box: OrientedBox, areaMm2: number, perimeterMm: number): ShapeClass {
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
