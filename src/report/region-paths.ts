import { copyOf } from '../geometry/copies.js';
import { simplifyRing } from '../geometry/simplify.js';
import type { Point, Region } from '../geometry/types.js';

/** How regions are drawn: from mm to the picture's own units, by scaling and shifting alone. */
export interface RegionPen {
  readonly x: (mm: number) => number;
  readonly y: (mm: number) => number;
  readonly decimals: number;
  readonly pxPerMm: number;
}

/** Corners nearer to their neighbours' line than this are not drawn, px: arcs have a point every micrometre. */
const FINEST_PX = 0.1;

/** So many regions share one element. A renderer looks at all walls of a path in each row of dots, so that one path of
 * 16,000 openings takes four times as long as many of a few dozen. */
const REGIONS_A_PATH = 64;

/**
 * The `d` of SVG paths that draw regions, some dozens of regions a path. Rings are written as steps from their first
 * corner, so that all copies of a shape share one text.
 */
export function regionPaths(regions: readonly Region[], pen: RegionPen): string[] {
  const round = rounding(pen.decimals);
  const known = new Map<Region, Steps>();
  const draw = (region: Region): string => {
    const copy = copyOf(region);
    const shape = copy?.shape ?? region;
    const steps = known.get(shape) ?? stepsOf(shape, pen);
    if (copy) known.set(shape, steps);
    const [x, y] = steps.from;
    return `M${round(pen.x(x + (copy?.dx ?? 0)))} ${round(pen.y(y + (copy?.dy ?? 0)))}${steps.words}`;
  };
  const paths: string[] = [];
  for (let i = 0; i < regions.length; i += REGIONS_A_PATH) {
    const some = regions.slice(i, i + REGIONS_A_PATH);
    paths.push(some.map(draw).join(''));
  }
  return paths;
}

/** All rings of a region, from the corner where the outer ring begins. */
interface Steps {
  readonly from: Point;
  readonly words: string;
}

function stepsOf({ outer, islands }: Region, { x, y, decimals, pxPerMm }: RegionPen): Steps {
  const round = rounding(decimals);
  const rings = [outer, ...islands].map((ring) => simplifyRing(ring, FINEST_PX / pxPerMm));
  const [from] = rings[0];
  // Places are rounded, not steps, so that nothing adds up on the way round.
  const places = rings.map((ring) =>
    ring.map((p): Point => [round(x(p[0]) - x(from[0])), round(y(p[1]) - y(from[1]))]),
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
