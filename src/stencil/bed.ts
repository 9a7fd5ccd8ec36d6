import type { Warning } from '../errors.js';
import { invert, mapOpenings, mapRing } from '../geometry/affine.js';
import { boundsOf, regionBounds, ringBounds } from '../geometry/bounds.js';
import { rectangle } from '../geometry/shapes.js';
import type { Box, Opening, Point } from '../geometry/types.js';
import type { Corrected } from '../machine/correct-openings.js';
import { layByPlace } from '../machine/lay-by-place.js';
import { machineMap } from '../machine/machine-map.js';
import { bend, unbend } from '../machine/place-field.js';
import type { Bends, MachineModel } from '../machine/types.js';
import type { Frame } from './frame.js';

/** A machine with bends, and where on its bed the origin of what is commanded lies. */
export interface Bed {
  readonly field: Bends;
  /** The canvas's lower left corner, which lies where that of the coupons lay, in the commanded openings' coordinates. */
  readonly originMm: Point;
}

const onBed =
  ({ field, originMm: [x0, y0] }: Bed, to: (field: Bends, p: Point) => Point) =>
  ([x, y]: Point): Point => {
    const [bx, by] = to(field, [x - x0, y - y0]);
    return [bx + x0, by + y0];
  };

/** Boxes of asked openings, film mm, as a machine without bends is commanded them. */
function commandedBoxes(asked: readonly Opening[], model: MachineModel): Box[] {
  const back = invert(machineMap(model));
  return asked.map((opening) => {
    const { minX, minY, maxX, maxY } = regionBounds(opening);
    return ringBounds(mapRing(back, rectangle(minX, minY, maxX, maxY)));
  });
}

/** Corrected openings as they must be commanded at their place of the bed. */
export function laidOnBed(
  corrected: Corrected,
  asked: readonly Opening[],
  model: MachineModel,
  bed: Bed,
  uprightBelowMm = 0,
): Corrected {
  const { openings, numbers } = corrected;
  const groups = numbers.map((number) => number - 1);
  const boxes = commandedBoxes(asked, model);
  return { ...corrected, openings: layByPlace(openings, groups, boxes, onBed(bed, unbend), uprightBelowMm) };
}

/** Commanded openings as a machine without bends would have to be told to cut the same. */
export function withoutBends(openings: readonly Opening[], bed: Bed | undefined): readonly Opening[] {
  return bed ? layByPlace(openings, [...openings.keys()], openings.map(regionBounds), onBed(bed, bend)) : openings;
}

/** What a machine without bends would cut of the commands that make the asked openings on this bed, film mm. */
export function aimedAt(asked: readonly Opening[], model: MachineModel, bed: Bed, uprightBelowMm: number): Opening[] {
  const map = machineMap(model);
  const straight = mapOpenings(invert(map), asked);
  const boxes = commandedBoxes(asked, model);
  return mapOpenings(map, layByPlace(straight, [...straight.keys()], boxes, onBed(bed, unbend), uprightBelowMm));
}

/** Marks lie so far within what they stand for, mm. */
const BESIDE_MM = 0.5;
/** Canvases that differ by less were meant to be the same: whole dots, mm. */
const SAME_CANVAS_MM = 0.5;

/** Where what is known of the bends does not hold. */
export function bedWarnings(commanded: readonly Opening[], { canvas }: Frame, bed: Bed | undefined): Warning[] {
  if (!bed) return [];
  const { canvasMm, areaMm } = bed.field;
  const [x, y] = bed.originMm;
  const [x0, y0, x1, y1] = areaMm;
  const beyond = commanded.filter((opening) => {
    const box = regionBounds(opening);
    return (
      box.minX - x < x0 - BESIDE_MM ||
      box.minY - y < y0 - BESIDE_MM ||
      box.maxX - x > x1 + BESIDE_MM ||
      box.maxY - y > y1 + BESIDE_MM
    );
  });
  const whole = boundsOf(commanded);
  const size = (w: number, h: number): string => `${w.toFixed(0)} x ${h.toFixed(0)} mm`;
  const other =
    Math.abs(canvas.widthMm - canvasMm.widthMm) > SAME_CANVAS_MM ||
    Math.abs(canvas.heightMm - canvasMm.heightMm) > SAME_CANVAS_MM;
  return [
    ...(other
      ? [
          {
            code: 'FIELD_OTHER_CANVAS',
            message: `the profile knows the bends of the bed on a canvas of ${size(canvasMm.widthMm, canvasMm.heightMm)}, and this one is ${size(canvas.widthMm, canvas.heightMm)}: their lower left corners are taken to lie on the same spot.`,
            hint: 'Place it there in the laser’s program, or use a canvas of that size.',
          },
        ]
      : []),
    ...(beyond.length > 0 && whole
      ? [
          {
            code: 'FIELD_BEYOND',
            message: `${beyond.length === 1 ? 'one opening lies' : `${beyond.length} openings lie`} beyond the ${size(x1 - x0, y1 - y0)} of the bed over which places were read; the error at the border of that area is taken for them.`,
            hint: 'Place the stencil further inside with --at-mm, or cut and scan a larger field-grid.',
          },
        ]
      : []),
  ];
}
