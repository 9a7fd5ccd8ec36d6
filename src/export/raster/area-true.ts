import { type Candidate, candidatesOf } from './candidates.js';
import { chooseAll } from './choose.js';
import type { Wanted } from './rounding.js';
import type { PixelShape } from './shape.js';
import { burntOf, classifyShapes, type ShapeClass, sizeOf } from './shape-classes.js';
import { stairsFor } from './stairs.js';
import { type Placed, type Stamp, stampFromRows } from './stamp.js';

/**
 * Chooses dots whose area comes nearest to each opening's, and lays them where the opening's centre is.
 *
 * @param kerfMm - full widths by which the beam widens what it burns; not given: the dots alone count
 * @returns dots, and for each opening the shape that they stand for
 */
export function areaTrue(
  shapes: readonly PixelShape[],
  dot: { readonly x: number; readonly y: number },
  kerfMm?: { readonly x: number; readonly y: number },
): { readonly placed: readonly Placed[]; readonly wanted: readonly Wanted[] } {
  const classes = kerfMm
    ? drawnIn(classifyShapes(shapes), { x: kerfMm.x / dot.x, y: kerfMm.y / dot.y })
    : classifyShapes(shapes);
  const choices = classes.map((found) => ({
    candidates: candidatesOf(found),
    weight: found.members.length,
    narrowest: found.burnt.narrowest,
  }));
  const chosen = chooseAll(choices, dot);
  const placed: Placed[] = new Array(shapes.length);
  const wanted: Wanted[] = new Array(shapes.length);
  classes.forEach((found, i) => {
    layAll(found, chosen[i], shapes, placed);
    for (const { index } of found.members)
      wanted[index] = { area: found.shape.area, burntArea: found.burnt.area, ...found.size };
  });
  return { placed, wanted };
}

/**
 * The tips of an upright shape are burnt as far out as they lie, so it keeps its size. A slanted one would get single
 * dots at its corners and come out wider square to its walls: of what it loses in size it gets back so much, in dots.
 */
const KEPT_SIZE_DOTS = 0.35;

function drawnIn(classes: readonly ShapeClass[], kerf: { readonly x: number; readonly y: number }): ShapeClass[] {
  const stairs = stairsFor(kerf);
  return classes.map((found) => {
    const shape = stairs.drawnIn(found.shape);
    const drawn = sizeOf(shape);
    const kept = found.mirrorX && found.mirrorY ? Infinity : KEPT_SIZE_DOTS;
    const size = {
      width: Math.min(found.size.width, drawn.width + kept),
      height: Math.min(found.size.height, drawn.height + kept),
    };
    return { ...found, shape, size, burnt: burntOf(found.shape, kerf) };
  });
}

function layAll(found: ShapeClass, candidate: Candidate, shapes: readonly PixelShape[], placed: Placed[]): void {
  const upright = candidate.stamp();
  const flipped = new Map<number, Stamp>([[0, upright]]);
  for (const { index, flipX, flipY } of found.members) {
    const key = (flipX ? 1 : 0) + (flipY ? 2 : 0);
    let stamp = flipped.get(key);
    if (!stamp) {
      stamp = flipStamp(upright, flipX, flipY);
      flipped.set(key, stamp);
    }
    const { centreX, centreY } = shapes[index];
    placed[index] = {
      stamp,
      column: Math.round(centreX - stamp.centreX),
      row: Math.round(centreY - stamp.centreY),
    };
  }
}

/** A stamp mirrored left to right, top to bottom, or both. */
export function flipStamp(stamp: Stamp, flipX: boolean, flipY: boolean): Stamp {
  const rows = Array.from({ length: stamp.height }, (_, r) => {
    const runs = Array.from(stamp.runs.subarray(stamp.rowStart[r], stamp.rowStart[r + 1]));
    return flipX ? runs.reverse().map((x) => stamp.width - x) : runs;
  });
  return stampFromRows(flipY ? rows.reverse() : rows).stamp;
}
