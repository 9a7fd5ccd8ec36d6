import { boundsOf, boxAround, boxDistance, grownBox, largest, ringBounds, smallest } from '../../geometry/bounds.js';
import type { Box, Point } from '../../geometry/types.js';
import { distance } from '../../geometry/walls.js';
import { blobsOf } from '../find/standing-out.js';
import type { Ruler } from '../measure/ruler.js';
import { blockMeans, levelAt } from '../picture/picture.js';
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
const LEAST_MM = 0.15;
const LEAST_MM2 = 0.025;
const LEAST_OPEN = 0.75;
/** Nothing that is cut into a stencil is larger. */
const LARGEST_RADIUS_MM = 6;
/** Beyond the outermost openings by more than this lies what is no part of the stencil, mm. */
const MARGIN_MM = 5;
/** They are looked for on samples so far apart, in tiles of so many, each with the film's own level. */
const LOOK_MM = 0.08;
const TILE = 32;
const LEAST_FILM = 0.05;
const STEP_MM = 0.01;
const MOST_SAMPLES = 300;
/** A hole has film on all sides, mm. */
const RIM_FROM_MM = 0.08;
const RIM_TO_MM = 0.2;
const RIM_SHARE = 0.85;

interface Looking {
  readonly ruler: Ruler;
  /** The level of the film around an opening. */
  readonly filmAt: (opening: number) => number;
  readonly openShare: number;
  /** Openings that lie where they should, by which places are told. */
  readonly sound: readonly number[];
}

/** What is open in the film and is no asked opening, and no part of one. */
export function holesOf(around: Neighbourhood, looking: Looking): Hole[] {
  const box = boundsOf(around.openings);
  if (!box || looking.sound.length === 0) return [];
  const grid = gridOf(box, MARGIN_MM + LARGEST_RADIUS_MM, LOOK_MM);
  const open = openness(grid, around, looking);
  return blobsOf({ widthPx: grid.columns, heightPx: grid.rows }, open).flatMap(({ at, radius, areaPx }) => {
    const [x, y] = at.map((value, k) => grid.first[k] + (value - 0.5) * LOOK_MM);
    const isBeyond = boxDistance(boxAround([x, y], 0, 0), box) > MARGIN_MM;
    if (areaPx < 2 || radius * LOOK_MM > LARGEST_RADIUS_MM || isBeyond) return [];
    return holeAt([x, y], radius * LOOK_MM, around, looking) ?? [];
  });
}

const gridOf = ({ minX, minY, maxX, maxY }: Box, roomMm: number, stepMm: number): SampleGrid => ({
  columns: Math.ceil((maxX - minX + 2 * roomMm) / stepMm),
  rows: Math.ceil((maxY - minY + 2 * roomMm) / stepMm),
  stepMm,
  first: [minX - roomMm, minY - roomMm],
  along: [1, 0],
  up: [0, 1],
});

/**
 * How open the film is from sample to sample, 0 where an opening is asked for. The level of the film is told by the openings,
 * not by what is commonest in the picture: how much shows of the ground beside the film is nobody's business.
 */
function openness(
  grid: SampleGrid,
  around: Neighbourhood,
  { ruler: { picture, film: lies }, filmAt, openShare, sound }: Looking,
): Float32Array {
  const { columns, rows } = grid;
  const { x: dots } = picture.dotsPerMm ?? { x: 1 / LOOK_MM };
  const factor = Math.max(1, Math.round(dots * LOOK_MM));
  const smaller = blockMeans(picture, factor);
  const { light } = picture;
  const wanted = coverageOf(grid, around.openings);
  // Sums leave traces of rounding.
  const toWanted = distances(grid, (at) => wanted[at] > 0.01);
  const open = new Float32Array(columns * rows);
  const [across, up] = [columns, rows].map((count) => Math.ceil(count / TILE));
  for (let tile = 0; tile < across * up; tile += 1) {
    const [left, low] = [TILE * (tile % across), TILE * Math.floor(tile / across)];
    const own: number[] = [];
    for (let row = low; row < Math.min(rows, low + TILE); row += 1)
      for (let column = left; column < Math.min(columns, left + TILE); column += 1) own.push(row * columns + column);
    const nearest = around.nearest(placeIn(grid, own[own.length >> 1]), sound);
    const place = lies.near(nearest);
    const levels = own.map((at) => {
      const [x, y] = place(placeIn(grid, at));
      const level = levelAt(smaller, x / factor, y / factor);
      return light ? (light[Math.min(255, Math.max(0, Math.round(level)))] ?? Number.NaN) : level;
    });
    const free = levels.filter((_, k) => toWanted[own[k]] > LOOK_MM);
    const film = filmAmong(free, filmAt(nearest), openShare) ?? filmAt(nearest);
    for (const [k, at] of own.entries())
      if (toWanted[at] > LOOK_MM) open[at] = (levels[k] / film - 1) / (openShare - 1) || 0;
  }
  return open;
}

/** The middle of those levels that are nearer to the film's than to an opening's; undefined where few are. */
function filmAmong(levels: ArrayLike<number>, film: number, openShare: number): number | undefined {
  const near = Array.from(levels).filter((level) => Math.abs(level / film - 1) < Math.abs(openShare - 1) / 2);
  return near.length > LEAST_FILM * levels.length ? medianOf(near) : undefined;
}

/** @param radiusMm - root mean square distance from its middle */
function holeAt(
  [x, y]: Point,
  radiusMm: number,
  around: Neighbourhood,
  { ruler, filmAt, openShare, sound }: Looking,
): Hole | undefined {
  const reach = 1.9 * radiusMm + 0.5;
  const box = boxAround([x, y], 2 * reach, 2 * reach);
  const near = around.near(box, 0);
  if (around.holds([x, y], near)) return undefined;
  const stepMm = Math.max(STEP_MM, (2 * reach) / MOST_SAMPLES);
  const grid = gridOf(box, 0, stepMm);
  const wanted = coverageOf(grid, near.map((i) => around.openings[i])); // biome-ignore format: one line
  const toWanted = distances(grid, (at) => wanted[at] > 0.5);
  const nearest = around.nearest([x, y], sound);
  const level = ruler.levelsNear(nearest);
  const levels = Float32Array.from(wanted, (_, at) => level(placeIn(grid, at)));
  const far = (at: number): number => distance(placeIn(grid, at), [x, y]);
  const free = (at: number): boolean => toWanted[at] > 0.1;
  const film = filmAmong(levels.filter((_, at) => free(at)), filmAt(nearest), openShare); // biome-ignore format: one line
  if (film === undefined) return undefined;
  const open = levels.map((value) => (value - film) / (film * (openShare - 1)));
  // Of a long one the circle of its own size reaches into openings beside it.
  const [{ own: found, off } = { own: [], off: Infinity }] = [...connectedParts(grid, (at) => open[at] > 0.5)]
    .filter((own) => !own.some((at) => wanted[at] > 0.5))
    .map((own) => ({ own, off: smallest(own.map(far)) }))
    .sort((p, q) => p.off - q.off);
  if (off >= Math.max(radiusMm, stepMm) || found.length * stepMm ** 2 < LEAST_MM2) return undefined;
  const part = new Uint8Array(open.length);
  for (const at of found) part[at] = 1;
  const depth = distances(grid, (at) => part[at] === 0);
  const deepest = largest(depth);
  if (2 * deepest - stepMm < LEAST_MM) return undefined;
  const core = found.filter((at) => depth[at] > 0.6 * deepest);
  if (medianOf(core.map((at) => open[at])) < LEAST_OPEN) return undefined;
  const out = distances(grid, (at) => part[at] === 1);
  const rim = where(grid, (at) => out[at] > RIM_FROM_MM && out[at] < RIM_TO_MM && free(at));
  // What has no film around it is the film's own outside.
  if (rim.filter((at) => open[at] < 0.4).length < RIM_SHARE * rim.length) return undefined;
  const { minX, minY, maxX, maxY } = grownBox(ringBounds(found.map((at) => placeIn(grid, at))), stepMm / 2);
  return {
    at: [(minX + maxX) / 2, (minY + maxY) / 2],
    widthMm: maxX - minX,
    heightMm: maxY - minY,
    areaMm2: found.length * stepMm ** 2,
  };
}
