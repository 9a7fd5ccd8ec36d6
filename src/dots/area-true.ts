import type { Candidate } from './candidates.js';
import { trimmedFrom } from './masks.js';
import { FRAME_DOTS, type Wanted } from './rounding.js';
import type { PixelShape } from './shape.js';
import { burntOf, classifyShapes, type ShapeClass, sizeOf } from './shape-classes.js';
import { stairsFor } from './stairs.js';
import { type Placed, type Stamp, stampFromRows } from './stamp.js';
import { chooseUnits, keepWebs, SAME_PART_DOTS, type Unit } from './units.js';
import { findMerged, findWebs, webDeficit } from './webs.js';

type PerAxis = { readonly x: number; readonly y: number };

export interface AreaTrue {
  readonly placed: readonly Placed[];
  /** For each opening the sizes that its dots stand for. */
  readonly wanted: readonly Wanted[];
  readonly maxWebDeficit: number;
}

/** Webs up to this wide are looked after where the dots alone count, dots: 0.3 mm at 1000 dpi; wider ones can spare a dot. */
const WEB_DOTS = 12;

/** Where the kerf is known, only webs that stay this thin on the film, dots: a wide web can spare a dot, a pad cannot. */
const THIN_WEB_DOTS = 6;

/**
 * Chooses dots whose area comes nearest to each opening's, and lays them where the opening's centre is.
 *
 * Equal openings get equal dots and symmetric ones symmetric dots. Webs lose no more than half a dot, as far as widths of
 * equal openings can see to it; openings that do not touch in the artwork keep film between them.
 *
 * @param kerfMm - full widths by which the beam widens what it burns; not given: the dots alone count
 * @param canvas - dots; openings near the edge are kept on it
 */
export function areaTrue(shapes: readonly PixelShape[], dot: PerAxis, kerfMm?: PerAxis, canvas?: PerAxis): AreaTrue {
  const kerf = kerfMm && { x: kerfMm.x / dot.x, y: kerfMm.y / dot.y };
  const grows = kerf !== undefined && (kerf.x > 0 || kerf.y > 0);
  const drawn = grows ? drawnIn(classifyShapes(shapes), kerf) : classifyShapes(shapes);
  const wanted: Wanted[] = new Array(shapes.length);
  for (const { members, shape, burnt, size } of drawn) {
    for (const { index } of members) wanted[index] = { area: shape.area, burntArea: burnt.area, ...size };
  }
  const classes = drawn.map(thickened);
  const most = kerf ? THIN_WEB_DOTS + Math.max(kerf.x, kerf.y) : WEB_DOTS;
  const facing = findWebs(shapes, Math.max(most, SAME_PART_DOTS));
  const webs = facing.filter((w) => w.asked <= most && (!kerf || w.asked - kerf[w.axis] <= THIN_WEB_DOTS));
  const placed: Placed[] = new Array(shapes.length);
  const stamps: StampCache = new Map();
  const lay = (unit: Unit): void => layAll(unit, shapes, placed, canvas, stamps);
  const units = chooseUnits(classes, shapes, facing, dot, grows);
  for (const unit of units.all) lay(unit);
  keepWebs(units, webs, placed, lay);
  for (const [larger, smaller] of findMerged(shapes, placed)) {
    placed[larger] = trimmedFrom(placed[larger], placed[smaller]);
  }
  const maxWebDeficit = webs.reduce((most, web) => Math.max(most, webDeficit(web, placed)), 0);
  return { placed, wanted, maxWebDeficit };
}

/**
 * The tips of an upright shape are burnt as far out as they lie, so it keeps its size. A slanted one would get single
 * dots at its corners and come out wider square to its walls: of what it loses in size it gets back so much, in dots.
 */
const KEPT_SIZE_DOTS = 0.2;

const isUpright = ({ mirrorX, mirrorY }: ShapeClass): boolean => mirrorX || mirrorY;

function drawnIn(classes: readonly ShapeClass[], kerf: PerAxis): ShapeClass[] {
  const stairs = stairsFor(kerf);
  return classes.map((found) => {
    const shape = stairs.drawnIn(found.shape);
    const drawn = sizeOf(shape);
    const kept = isUpright(found) ? Infinity : KEPT_SIZE_DOTS;
    const size = {
      width: Math.min(found.size.width, drawn.width + kept),
      height: Math.min(found.size.height, drawn.height + kept),
    };
    return { ...found, shape, size, burnt: burntOf(found.shape, kerf) };
  });
}

/** A shape thinner than a dot stands for the thinnest line that the machine can burn. */
function thickened(found: ShapeClass): ShapeClass {
  const { width, height } = found.size;
  if (width >= 1 && height >= 1) return found;
  const size = { width: Math.max(1, width), height: Math.max(1, height) };
  const area = Math.max(found.shape.area, (found.shape.area * size.width * size.height) / (width * height || 1));
  return {
    ...found,
    size,
    shape: { ...found.shape, area },
    burnt: { ...found.burnt, area: Math.max(found.burnt.area, area) },
  };
}

/** Stamps of candidates, by how they are mirrored: 1 left to right, 2 top to bottom, 3 both. */
type StampCache = Map<Candidate, Map<number, Stamp>>;

/** Lays the unit's dots where each of its openings has its centre. */
function layAll(
  { members, candidate }: Unit,
  shapes: readonly PixelShape[],
  placed: Placed[],
  canvas: PerAxis | undefined,
  stamps: StampCache,
): void {
  const flipped = stamps.get(candidate) ?? new Map<number, Stamp>([[0, candidate.stamp()]]);
  stamps.set(candidate, flipped);
  for (const { index, flipX, flipY } of members) {
    const key = (flipX ? 1 : 0) + (flipY ? 2 : 0);
    let stamp = flipped.get(key);
    if (!stamp) {
      stamp = flipStamp(flipped.get(0) as Stamp, flipX, flipY);
      flipped.set(key, stamp);
    }
    const { centreX, centreY, minX, maxX, minY, maxY } = shapes[index];
    const onCanvas = (at: number, length: number, most: number): number =>
      length <= most ? Math.min(Math.max(at, 0), most - length) : at;
    const column = placeFor(centreX - stamp.centreX, (minX + maxX - stamp.width) / 2);
    const row = placeFor(centreY - stamp.centreY, (minY + maxY - stamp.height) / 2);
    placed[index] = canvas
      ? { stamp, column: onCanvas(column, stamp.width, canvas.x), row: onCanvas(row, stamp.height, canvas.y) }
      : { stamp, column, row };
  }
}

/**
 * Where a stamp goes along one axis: by its centre of area, but for frames and the like. One more dot on one side of a
 * thin frame moves its centre of area by many dots, and the frame itself by half a one.
 */
function placeFor(byArea: number, byBox: number): number {
  return Math.round(Math.abs(byArea - byBox) > FRAME_DOTS ? byBox : byArea);
}

/** A stamp mirrored left to right, top to bottom, or both. */
export function flipStamp(stamp: Stamp, flipX: boolean, flipY: boolean): Stamp {
  const rows = Array.from({ length: stamp.height }, (_, r) => {
    const runs = Array.from(stamp.runs.subarray(stamp.rowStart[r], stamp.rowStart[r + 1]));
    return flipX ? runs.reverse().map((x) => stamp.width - x) : runs;
  });
  return stampFromRows(flipY ? rows.reverse() : rows).stamp;
}
