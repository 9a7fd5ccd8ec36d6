import { boxAround, boxDistance, boxOf, largest, reachAlong, smallest } from '../../geometry/bounds.js';
import { type BoxIndex, boxIndex } from '../../geometry/box-index.js';
import { move } from '../../geometry/copies.js';
import { ownDirection } from '../../geometry/oriented-box.js';
import type { Box, Opening, Point, Region } from '../../geometry/types.js';
import { insideRegion } from '../../geometry/walls.js';
import {
  blur,
  connected,
  coverageOf,
  distances,
  placeIn,
  type SampleGrid,
  thinParts,
  where,
} from '../picture/raster.js';
import { medianOf } from '../picture/robust.js';

/** An opening and its surroundings, on a grid along its own sides. */
export interface Ground extends SampleGrid {
  readonly levels: Float32Array;
  /** The level of the film around. */
  readonly film: number;
  /** Share of each sample that the opening covers. */
  readonly cover: Float32Array;
  /** How far outside of the opening, inside of it, and from the nearest other one a sample lies, mm. */
  readonly outside: Float32Array;
  readonly inside: Float32Array;
  readonly toOther: Float32Array;
  /** The other opening that a sample lies in, or -1. */
  readonly other: Int32Array;
  /** The picture ends within the opening. */
  readonly cutOff: boolean;
}

/** How open the film is there: 0 film, 1 opening. As seen; and as asked, as soft as the picture is. */
export interface Patch extends Ground {
  readonly seen: Float32Array;
  readonly asked: Float32Array;
}

/** Ground around an opening that is looked at, mm: to measure it, and to see what it has grown together with. */
const ROOM_MM = 0.5;
export const WIDE_ROOM_MM = 1.2;
const STEP_MM = 0.02;
/** Large ones have no more samples than this a side. */
const MOST_SAMPLES = 400;
/** Film this far from every opening is not lit by them, mm. */
const CLEAR_MM = 0.12;
const RIM_MM = 0.05;
/** Openness below that of film which is no noise, and how far beside it dirt is as soft as the picture, mm. */
const DIRT = -0.2;
const DIRT_RIM_MM = 0.15;
/** Hairs are no thicker than twice this, mm. What takes so much of an opening's light reaches farther by this, mm. */
export const HAIR_MM = 0.05;
const LACK = 0.15;
const LACK_MM = 0.03;

/** @param moved - where the opening is looked for, beside its place, mm; `drawn`: what the beam makes of it */
export function groundOf(
  around: Neighbourhood,
  i: number,
  levelAt: (point: Point) => number,
  {
    moved = [0, 0],
    roomMm = ROOM_MM,
    drawn = [around.openings[i]],
  }: { readonly moved?: Point; readonly roomMm?: number; readonly drawn?: readonly Region[] } = {},
): Ground {
  const opening = move(around.openings[i], ...moved);
  const grid = gridAround(opening, roomMm);
  const size = grid.columns * grid.rows;
  const shapes = drawn.map((region) => move(region, ...moved));
  const cover = coverageOf(grid, shapes);
  const other = new Int32Array(size).fill(-1);
  const near = around.near(boxOf(opening), 2 * roomMm).filter((j) => j !== i);
  for (const j of near) {
    coverageOf(grid, [around.openings[j]]).forEach((share, at) => {
      if (share > 0.5) other[at] = j;
    });
  }
  const [outside, inside] = [distances(grid, (at) => cover[at] > 0.5), distances(grid, (at) => cover[at] <= 0.5)];
  const toOther = distances(grid, (at) => other[at] >= 0);
  const levels = Float32Array.from({ length: size }, (_, at) => levelAt(placeIn(grid, at)));
  const cutOff = levels.some((level, at) => Number.isNaN(level) && outside[at] < RIM_MM);
  return { ...grid, levels, film: filmOf(levels, outside, toOther), cover, outside, inside, toOther, other, cutOff };
}

export function patchOf(ground: Ground, openShare: number, blurMm: number): Patch {
  const { levels, film, cover } = ground;
  const depth = film * (openShare - 1);
  const open = levels.map((level) => (Number.isNaN(level) ? 0 : (level - film) / depth));
  const seen = open.map((value) => Math.max(-0.2, Math.min(1.2, value)));
  const asked = cover.slice();
  blur(asked, ground, blurMm / ground.stepMm);
  withoutHairs(seen, asked, ground, open);
  return { ...ground, seen, asked };
}

/**
 * Where openings are lighter than the film, what is darker than film is dirt: of a hair that runs on into an opening, or
 * comes out of it, nobody knows what lies under it.
 */
function withoutHairs(seen: Float32Array, asked: Float32Array, ground: Ground, open: Float32Array): void {
  if (!open.some((value) => value < DIRT)) return;
  const toDirt = distances(ground, (at) => open[at] < DIRT);
  const lacks = (at: number): boolean => asked[at] - seen[at] > LACK;
  const seeds = where(ground, (at) => toDirt[at] <= DIRT_RIM_MM);
  const under = new Set(connected(ground, seeds, lacks));
  const isThin = thinParts(ground, (at) => under.has(at), HAIR_MM + LACK_MM);
  for (const at of under) if (isThin(at)) seen[at] = asked[at];
}

/** Level of an opening's inside as a share of the film's beside it. */
export function openShareOf({ levels, film, inside }: Ground): number {
  const deepest = largest(inside);
  return medianOf(levels.filter((level, at) => inside[at] >= 0.7 * deepest && !Number.isNaN(level))) / film;
}

function filmOf(levels: Float32Array, outside: Float32Array, toOther: Float32Array): number {
  const clear = outside.map((value, at) => (Number.isNaN(levels[at]) ? 0 : Math.min(value, toOther[at])));
  const most = Math.min(CLEAR_MM, 0.8 * largest(clear));
  return medianOf(levels.filter((_, at) => clear[at] >= most && clear[at] > 0));
}

function gridAround(opening: Opening, roomMm: number): SampleGrid {
  const along = ownDirection(opening.outer);
  const up: Point = [-along[1], along[0]];
  const [[u0, u1], [v0, v1]] = [along, up].map((axis) => {
    const [least, most] = reachAlong(opening.outer, axis);
    return [least - roomMm, most + roomMm];
  });
  const stepMm = Math.max(STEP_MM, Math.max(u1 - u0, v1 - v0) / MOST_SAMPLES);
  return {
    columns: Math.ceil((u1 - u0) / stepMm),
    rows: Math.ceil((v1 - v0) / stepMm),
    stepMm,
    first: [u0 * along[0] + v0 * up[0], u0 * along[1] + v0 * up[1]],
    along,
    up,
  };
}

/** Finds what lies near to a place among openings. */
export class Neighbourhood {
  private readonly index: BoxIndex;

  constructor(readonly openings: readonly Opening[]) {
    this.index = boxIndex(openings, boxOf);
  }

  /** Openings whose boxes lie within `roomMm` of a box. */
  near(box: Box, roomMm: number): number[] {
    return this.index.near(box, roomMm);
  }

  /** Whether one of some openings holds a point; film left standing inside of it is not in it. */
  holds(point: Point, among: readonly number[]): boolean {
    return among.some((i) => insideRegion(point, this.openings[i]));
  }

  /** Which of some openings has its box nearest to a point. */
  nearest(point: Point, among: readonly number[]): number {
    const far = among.map((i) => boxDistance(boxAround(point, 0, 0), boxOf(this.openings[i])));
    return among[far.indexOf(smallest(far))] ?? 0;
  }
}
