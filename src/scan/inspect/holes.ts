import { mapPoint } from '../../geometry/affine.js';
import { boundsOf } from '../../geometry/bounds.js';
import type { Affine, Box, Point } from '../../geometry/types.js';
import type { Star } from '../find/constellation.js';
import { connectedParts, coverageOf, distances, placeIn, type SampleGrid, where } from '../picture/raster.js';
import { medianOf } from '../picture/robust.js';
import type { Neighbourhood } from './patch.js';

/** Something open in the film where nobody asked for it; mm of the artwork. */
export interface Hole {
  readonly at: Point;
  readonly widthMm: number;
  readonly heightMm: number;
  readonly areaMm2: number;
}

/** Dust and hairs are thinner, mm, or let less light through. */
const LEAST_MM = 0.17;
const LEAST_MM2 = 0.025;
const LEAST_OPEN = 0.75;
/** Beyond the outermost openings by more than this lies what is no part of the stencil, mm. */
const MARGIN_MM = 5;
const STEP_MM = 0.02;
const MOST_SAMPLES = 300;
/** A hole has film on all sides, mm. */
const RIM_FROM_MM = 0.08;
const RIM_TO_MM = 0.2;
const RIM_SHARE = 0.85;

interface Looking {
  /** Pixels to mm of the artwork. */
  readonly back: Affine;
  readonly levelNear: (opening: number) => (point: Point) => number;
  readonly openShare: number;
  /** Openings that lie where they should, by which places are told. */
  readonly sound: readonly number[];
}

/**
 * What stands out of the film and is no asked opening, and no part of one.
 *
 * @param things - pixels
 */
export function holesOf(things: readonly Star[], around: Neighbourhood, looking: Looking): Hole[] {
  const box = boundsOf(around.openings);
  if (!box) return [];
  const scale = Math.sqrt(Math.abs(looking.back.a * looking.back.d - looking.back.b * looking.back.c));
  return things.flatMap(({ at, radius }) => {
    const [x, y] = mapPoint(looking.back, at);
    const within = x > box.minX - MARGIN_MM && x < box.maxX + MARGIN_MM && y > box.minY - MARGIN_MM && y < box.maxY + MARGIN_MM; // biome-ignore format: one condition
    return (within && holeAt([x, y], scale * radius, around, looking)) || [];
  });
}

/** @param radiusMm - root mean square distance from its middle */
function holeAt(
  [x, y]: Point,
  radiusMm: number,
  around: Neighbourhood,
  { levelNear, openShare, sound }: Looking,
): Hole | undefined {
  const reach = 1.9 * radiusMm + 0.5;
  const box: Box = { minX: x - reach, minY: y - reach, maxX: x + reach, maxY: y + reach };
  const near = around.near(box, 0);
  if (around.holds([x, y], near)) return undefined;
  const stepMm = Math.max(STEP_MM, (2 * reach) / MOST_SAMPLES);
  const side = Math.ceil((2 * reach) / stepMm);
  const grid: SampleGrid = {
    columns: side,
    rows: side,
    stepMm,
    first: [box.minX, box.minY],
    along: [1, 0],
    up: [0, 1],
  };
  const wanted = coverageOf(grid, near.map((i) => around.openings[i])); // biome-ignore format: one line
  const toWanted = distances(grid, (at) => wanted[at] > 0.5);
  const level = levelNear(around.nearest([x, y], sound));
  const levels = Float32Array.from(wanted, (_, at) => level(placeIn(grid, at)));
  const far = (at: number): number => Math.hypot(...placeIn(grid, at).map((value, k) => value - (k === 0 ? x : y)));
  const free = (at: number): boolean => toWanted[at] > 0.1;
  const ground = levels.filter((value, at) => free(at) && far(at) > 1.8 * radiusMm + 0.1 && !Number.isNaN(value));
  if (ground.length === 0) return undefined;
  const film = medianOf(ground);
  const open = levels.map((value) => (value - film) / (film * (openShare - 1)));
  // Of a long one the circle of its own size reaches into openings beside it.
  const [found] = [...connectedParts(grid, (at) => open[at] > 0.5)]
    .filter((own) => !own.some((at) => wanted[at] > 0.5))
    .map((own) => ({ own, off: own.reduce((least, at) => Math.min(least, far(at)), Infinity) }))
    .filter(({ off }) => off < Math.max(radiusMm, stepMm))
    .sort((p, q) => p.off - q.off)
    .map(({ own }) => own);
  if (!found || found.length * stepMm ** 2 < LEAST_MM2) return undefined;
  const part = new Uint8Array(open.length);
  for (const at of found) part[at] = 1;
  const depth = distances(grid, (at) => part[at] === 0);
  const deepest = depth.reduce((most, value) => Math.max(most, value), 0);
  if (2 * deepest - stepMm < LEAST_MM) return undefined;
  const core = found.filter((at) => depth[at] > 0.6 * deepest);
  if (medianOf(core.map((at) => open[at])) < LEAST_OPEN) return undefined;
  const out = distances(grid, (at) => part[at] === 1);
  const rim = where(grid, (at) => out[at] > RIM_FROM_MM && out[at] < RIM_TO_MM && free(at));
  // What has no film around it is the film's own outside.
  if (rim.filter((at) => open[at] < 0.4).length < RIM_SHARE * rim.length) return undefined;
  const extent = (k: number): [number, number] => {
    const all = found.map((at) => placeIn(grid, at)[k]);
    return [all.reduce((p, q) => Math.min(p, q)) - stepMm / 2, all.reduce((p, q) => Math.max(p, q)) + stepMm / 2];
  };
  const [[x0, x1], [y0, y1]] = [extent(0), extent(1)];
  return {
    at: [(x0 + x1) / 2, (y0 + y1) / 2],
    widthMm: x1 - x0,
    heightMm: y1 - y0,
    areaMm2: found.length * stepMm ** 2,
  };
}
