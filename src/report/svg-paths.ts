import { copyOf, oncePerShape } from '../geometry/copies.js';
import { simplifyRing } from '../geometry/simplify.js';
import type { Point, Region } from '../geometry/types.js';

/** How regions are drawn. */
export interface PathPen {
  /** From mm to the drawing's own units; an affine map. */
  readonly at: (mm: Point) => Point;
  readonly decimals: number;
  /** Corners nearer to their neighbours' line than this are left out, mm. */
  readonly finestMm: number;
}

/**
 * Writes regions as data of SVG paths. Rings are steps from their first corner, so that all copies of a shape share one
 * text, and stay alike to the last digit.
 */
export function pathWriter(pen: PathPen): (region: Region) => string {
  const round = rounding(pen.decimals);
  const stepsIn = oncePerShape((shape) => stepsOf(shape, pen));
  return (region) => {
    const { from, words } = stepsIn(region);
    const { dx, dy } = copyOf(region) ?? { dx: 0, dy: 0 };
    const [x, y] = pen.at([from[0] + dx, from[1] + dy]);
    return `M${round(x)} ${round(y)}${words}`;
  };
}

/** All rings of a region, from the corner where the outer ring begins. */
function stepsOf({ outer, islands }: Region, { at, decimals, finestMm }: PathPen) {
  const round = rounding(decimals);
  const rings = [outer, ...islands].map((ring) => simplifyRing(ring, finestMm));
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

/** How regions are drawn: from mm to the picture's own units, by scaling and shifting alone. */
export interface RegionPen extends Omit<PathPen, 'finestMm'> {
  readonly pxPerMm: number;
}

/** Corners nearer to their neighbours' line than this are not drawn, px: arcs have a point every micrometre. */
const FINEST_PX = 0.1;

/** So many regions share one element. A renderer looks at all walls of a path in each row of dots, so that one path of
 * 16,000 openings takes four times as long as many of a few dozen. */
const REGIONS_A_PATH = 64;

/** The `d` of SVG paths that draw regions, some dozens of regions a path. */
export function regionPaths(regions: readonly Region[], pen: RegionPen): string[] {
  const draw = pathWriter({ ...pen, finestMm: FINEST_PX / pen.pxPerMm });
  const paths: string[] = [];
  for (let i = 0; i < regions.length; i += REGIONS_A_PATH) {
    const some = regions.slice(i, i + REGIONS_A_PATH);
    paths.push(some.map(draw).join(''));
  }
  return paths;
}
