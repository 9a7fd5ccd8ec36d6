import type { Box, Point, Region, Ring } from './types.js';

/** Largest distance between an arc and the polygon that stands for it, mm. */
export const CHORD_TOLERANCE_MM = 2e-4;

/** A rectangle by its corners, counter-clockwise. */
export function rectangle(minX: number, minY: number, maxX: number, maxY: number): Ring {
  return [
    [minX, minY],
    [maxX, minY],
    [maxX, maxY],
    [minX, maxY],
  ];
}

/** A box's outline. */
export const boxRing = ({ minX, minY, maxX, maxY }: Box): Ring => rectangle(minX, minY, maxX, maxY);

/** Number of chords that keep a circle of this radius within the tolerance; a multiple of 4, so extremes are exact. */
function circleSteps(radiusMm: number): number {
  if (radiusMm <= CHORD_TOLERANCE_MM) return 8;
  const steps = Math.ceil(Math.PI / Math.acos(1 - CHORD_TOLERANCE_MM / radiusMm));
  return Math.min(4096, Math.max(8, 4 * Math.ceil(steps / 4)));
}

/**
 * How much further out than the curve the vertices of an n-sided polygon must lie for it to have the curve's area.
 * A polygon with its vertices on the circle is 0.13 % small for a 0.2 mm disc; with this factor its area is exact and
 * its width is off by less than the chord tolerance.
 */
function areaTrueFactor(steps: number): number {
  const angle = (2 * Math.PI) / steps;
  return Math.sqrt(angle / Math.sin(angle));
}

/** An ellipse as a polygon of exactly its area, counter-clockwise from +X. */
export function ellipse(cx: number, cy: number, radiusX: number, radiusY = radiusX): Ring {
  const steps = circleSteps(Math.max(radiusX, radiusY));
  const factor = areaTrueFactor(steps);
  return Array.from({ length: steps }, (_, i): [number, number] => {
    const angle = (2 * Math.PI * i) / steps;
    return [cx + radiusX * factor * Math.cos(angle), cy + radiusY * factor * Math.sin(angle)];
  });
}

/** A region without islands. */
export const solid = (outer: Ring): Region => ({ outer, islands: [] });

/** An arc about a centre; the radius may change evenly along it, since files round both ends. */
export interface Arc {
  readonly cx: number;
  readonly cy: number;
  readonly startRadius: number;
  readonly endRadius: number;
  /** Radians from +X. */
  readonly start: number;
  /** Radians, counter-clockwise positive, up to a full turn either way. */
  readonly sweep: number;
}

/**
 * Points along an arc, both ends included and exact. The inner points lie so far outside that the fan of triangles
 * from the centre has the area of the true sector: with k chords of angle t and inner points at g·r,
 * sin t·((k-2)g² + 2g) = k·t.
 *
 * @returns at least three points; mm
 */
export function arcPoints({ cx, cy, startRadius, endRadius, start, sweep }: Arc): [number, number][] {
  const turn = Math.abs(sweep);
  const steps = circleSteps(Math.max(startRadius, endRadius, 0));
  const count = Math.max(2, Math.ceil((steps * turn) / (2 * Math.PI) - 1e-9));
  const step = turn / count;
  const wanted = step < 1e-6 ? count : (count * step) / Math.sin(step);
  const out = count === 2 ? wanted / 2 : (-1 + Math.sqrt(1 + (count - 2) * wanted)) / (count - 2);
  const points: [number, number][] = [];
  for (let i = 0; i <= count; i += 1) {
    const t = i / count;
    const angle = start + sweep * t;
    const radius = (startRadius + (endRadius - startRadius) * t) * (i === 0 || i === count ? 1 : out);
    points.push([cx + radius * Math.cos(angle), cy + radius * Math.sin(angle)]);
  }
  return points;
}

/** The arc that a file asks for from `from` to `to` about a centre; a full turn when both are the same point. */
export function arcBetween(from: Point, to: Point, centre: Point, clockwise: boolean): Arc {
  const start = Math.atan2(from[1] - centre[1], from[0] - centre[0]);
  const stop = Math.atan2(to[1] - centre[1], to[0] - centre[0]);
  const full = from[0] === to[0] && from[1] === to[1];
  let sweep = stop - start;
  if (clockwise) {
    while (sweep >= 0) sweep -= 2 * Math.PI;
    if (full) sweep = -2 * Math.PI;
  } else {
    while (sweep <= 0) sweep += 2 * Math.PI;
    if (full) sweep = 2 * Math.PI;
  }
  return {
    cx: centre[0],
    cy: centre[1],
    startRadius: Math.hypot(from[0] - centre[0], from[1] - centre[1]),
    endRadius: Math.hypot(to[0] - centre[0], to[1] - centre[1]),
    start,
    sweep,
  };
}

/**
 * Centre of a single-quadrant arc (G74): the offsets come without sign, and of the four candidates that one counts
 * whose arc turns by at most 90 degrees and whose radii agree best.
 */
export function singleQuadrantCentre(from: Point, to: Point, i: number, j: number, clockwise: boolean): Point {
  let best: Point = [from[0] + i, from[1] + j];
  let bestError = Infinity;
  for (const sx of [1, -1]) {
    for (const sy of [1, -1]) {
      const centre: Point = [from[0] + sx * Math.abs(i), from[1] + sy * Math.abs(j)];
      const arc = arcBetween(from, to, centre, clockwise);
      if (Math.abs(arc.sweep) > Math.PI / 2 + 1e-3) continue;
      const error = Math.abs(arc.startRadius - arc.endRadius);
      if (error < bestError) {
        best = centre;
        bestError = error;
      }
    }
  }
  return best;
}
