import { openingArea, openingCentroid, openingPerimeter } from '../geometry/area.js';
import { narrowestOwnWeb, narrowestWidth } from '../geometry/narrowest.js';
import { type OrientedBox, orientedBox } from '../geometry/oriented-box.js';
import type { Opening, Point, Region, Ring } from '../geometry/types.js';
import { type ShapeClass, shapeClass } from './shape-class.js';

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

const NM_PER_MM = 1e6;

function shapeKey(region: Region): string {
  const [x0, y0] = region.outer[0];
  const part = (ring: Ring): string =>
    ring.map(([x, y]) => `${Math.round((x - x0) * NM_PER_MM)},${Math.round((y - y0) * NM_PER_MM)}`).join(' ');
  return [region.outer, ...region.islands].map(part).join('|');
}

/** A measurer with a memory of its own. A key of nanometres: finer differences do not count. */
export function createMeasurer(): Measurer {
  const known = new Map<string, { readonly at: Point; readonly measure: Measure }>();
  const seen = new WeakMap<Region, Measure>();
  const lookUp = (region: Region): Measure => {
    const key = shapeKey(region);
    const at = region.outer[0];
    const memory = known.get(key);
    if (memory) {
      const move = ([x, y]: Point): Point => [x + at[0] - memory.at[0], y + at[1] - memory.at[1]];
      const { measure } = memory;
      return { ...measure, centre: move(measure.centre), centroid: move(measure.centroid) };
    }
    const measure = measureRegion(region);
    known.set(key, { at, measure });
    return measure;
  };
  return (region) => {
    const measure = seen.get(region) ?? lookUp(region);
    seen.set(region, measure);
    return measure;
  };
}

/** Measures one opening. Millimetres. */
export function measureRegion(region: Region): Measure {
  const box: OrientedBox = orientedBox(region.outer);
  const areaMm2 = openingArea(region);
  const perimeterMm = openingPerimeter(region);
  const shape = shapeClass(region, box, areaMm2, perimeterMm);
  // A disc comes as a polygon of its area: its corners lie outside the circle and its sides inside.
  const discMm = shape === 'round' ? Math.sqrt((4 * areaMm2) / Math.PI) : undefined;
  const trueSize = discMm === undefined ? 1 : discMm / Math.sqrt(box.widthMm * box.heightMm);
  const widthMm = box.widthMm * trueSize;
  const heightMm = box.heightMm * trueSize;
  return {
    centre: box.centre,
    centroid: openingCentroid(region),
    widthMm,
    heightMm,
    angleDeg: box.angleDeg,
    lengthMm: Math.max(widthMm, heightMm),
    narrowestMm: discMm === undefined ? narrowestWidth(region) : Math.min(widthMm, heightMm),
    areaMm2,
    perimeterMm,
    shape,
    ownWebMm: narrowestOwnWeb(region),
  };
}

/** Measures a list of openings, in order. */
export function measureOpenings(openings: readonly Opening[], measure: Measurer = createMeasurer()): Measure[] {
  return openings.map(measure);
}
