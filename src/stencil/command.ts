import type { Standing } from '../dots/rasterise.js';
import { burntAbove } from '../dots/rows.js';
import type { Warning } from '../errors.js';
import { type ExportFormat, isRaster } from '../export/export-formats.js';
import type { WriteOptions } from '../export/types.js';
import { type DotImage, layDots } from '../export/write.js';
import { invert, mapOpenings, mapRing } from '../geometry/affine.js';
import { boxWithin, regionBounds, ringBounds } from '../geometry/bounds.js';
import { shareShapes } from '../geometry/shape-cache.js';
import { rectangle } from '../geometry/shapes.js';
import type { Box, Opening, PerAxis, Point } from '../geometry/types.js';
import { fullBudget } from '../geometry/work-budget.js';
import { present } from '../kept.js';
import { type Corrected, corrector } from '../machine/correct-openings.js';
import { layByPlace } from '../machine/lay-by-place.js';
import { commandedKerf, type ModelSource, machineMap, machineModel, withRowsApart } from '../machine/machine-model.js';
import { bend, unbend } from '../machine/place-field.js';
import type { Bends, MachineModel, PlaceField } from '../machine/types.js';
import { type DotPhase, type Frame, refuseOutside } from './frame.js';

/** How the machine burns images: what decides which dots there are. */
export interface SweepOptions extends Pick<WriteOptions, 'scanDirection' | 'burnEveryNthRow'> {
  readonly pitchMm: PerAxis;
}

/** The dots of a stencil, chosen and not yet written. */
export interface StencilDots {
  /** What they stand for, commanded mm: corrected openings whose walls stay upright. */
  readonly corrected: Corrected;
  readonly image: DotImage;
  /** What they were corrected for: less kerf where only every n-th row is burnt. */
  readonly machine: MachineModel;
}

/** What the machine is commanded, in paths, which are sheared exactly, and in dots. */
export interface Commanded {
  /** Where paths are asked for. */
  readonly paths?: Corrected;
  /** Where an image is asked for. */
  readonly dots?: StencilDots;
  /** The paths, or else what the dots stand for: which parts are narrow is the same. */
  readonly corrected: Corrected;
  readonly frame: Frame;
  readonly sweep: SweepOptions;
  /** Openings of a piece to be measured, on the canvas besides the corrected ones, commanded mm. */
  readonly uncorrected: readonly Opening[];
  /** Of a machine whose bends are known: what was commanded is right for its place on the bed alone. */
  readonly bed?: Bed;
  /** What a machine without bends would cut, film mm: what the dots, or else the paths, are held against. */
  readonly aimed: readonly Opening[];
}

/** The share of a dot by which a wall may lean and still be drawn upright. */
const UPRIGHT_SHARE_OF_DOT = 0.34;

/** Shapes traced from an image that differ by less than this share of a dot are the same shape: more kinds take longer, and equal pads differ. */
const ALIKE_SHARE_OF_DOT = 0.15;

/** What commanding needs to know besides the openings and the machine. */
export interface CommandOptions extends SweepOptions {
  readonly formats: readonly ExportFormat[];
  /** Bends of the machine, over its bed. */
  readonly field?: PlaceField;
  /** The canvas, given what is commanded, and where the dots lie. */
  readonly frameFor: (corrected: Corrected, grid: DotPhase) => Frame;
  readonly uncorrected?: (frame: Frame) => readonly Opening[];
  /** Which openings, by number, give way to all others, whose dots are then the same as without them. */
  readonly standing?: (opening: number) => Standing;
}

/**
 * Corrects openings for the formats that are asked for; each way only once, and only where some format needs it.
 *
 * @param asked - what the film shall have, mm
 */
export function commandFor(asked: readonly Opening[], profile: ModelSource, options: CommandOptions): Commanded {
  const { pitchMm, formats, frameFor, standing = () => 'first' } = options;
  const { scanDirection, burnEveryNthRow } = options;
  const sweep = { pitchMm, scanDirection, burnEveryNthRow };
  const model = machineModel(profile);
  const across = scanDirection === 'y' ? 'x' : 'y';
  const machine = withRowsApart(model, burnEveryNthRow ?? 1, pitchMm[across], across);
  const lineMm = pitchMm[across] * (burnEveryNthRow ?? 1);
  const grid: DotPhase = {
    dotMm: { ...pitchMm, [across]: lineMm },
    beyondMm: { x: 0, y: 0, [across]: lineMm * burntAbove(burnEveryNthRow ?? 1) },
  };
  const correct = corrector(profile, pitchMm);
  const drawn = formats.some(isRaster) ? alikeWhenTraced(asked, pitchMm) : undefined;
  // Shapes that were made alike are near those of the paths, but not the same.
  const correctDots = drawn === asked && machine === model ? correct : corrector(machine, pitchMm);
  const upright = UPRIGHT_SHARE_OF_DOT * pitchMm.x;
  const straightDots = drawn && correctDots(drawn, upright);
  const straightPaths = formats.every(isRaster) ? undefined : correct(asked);
  const straight = straightPaths ?? straightDots ?? correct(asked);
  // The dots' frame first: which other formats are asked for changes no dot.
  const frame = frameFor(straightDots ?? straight, grid);
  const bed = options.field && { field: options.field, originMm: frame.originMm };
  const laid = (one: Corrected, of: readonly Opening[], uprightBelowMm: number): Corrected =>
    bed ? refuseOutside(laidOnBed(one, of, model, bed, uprightBelowMm), frame) : one;
  const forDots = straightDots && laid(straightDots, drawn, upright);
  const paths = straightPaths && laid(straightPaths, asked, 0);
  const corrected = paths ?? forDots ?? laid(straight, asked, 0);
  const uncorrected = options.uncorrected?.(frame) ?? [];
  const kerfMm = commandedKerf(machine);
  const dots = forDots && {
    ...{ corrected: forDots, machine },
    image: fullBudget().run(() =>
      layDots([...forDots.openings, ...uncorrected], { ...sweep, ...frame, kerfMm, format: 'png' }, (i) =>
        i < forDots.numbers.length ? standing(forDots.numbers[i]) : 'first',
      ),
    ),
  };
  return {
    ...(paths ? { paths } : {}),
    ...(dots ? { dots } : {}),
    ...{ corrected, frame, sweep, uncorrected },
    ...(bed ? { bed, aimed: aimedAt(asked, model, bed, dots ? upright : 0) } : { aimed: asked }),
  };
}

/** Openings as an image of them stands for: where they are traced, equal ones are equal, and walls stay upright. */
export function correctedForDots(asked: readonly Opening[], profile: ModelSource, pitchMm: PerAxis): Corrected {
  return corrector(profile, pitchMm)(alikeWhenTraced(asked, pitchMm), UPRIGHT_SHARE_OF_DOT * pitchMm.x);
}

/** Equal pads of an image come out equal: what the tracing of each one made different is no difference in the artwork. */
function alikeWhenTraced(openings: readonly Opening[], pitchMm: PerAxis): readonly Opening[] {
  const traced = openings.some(({ tag }) => tag?.drawn === 'traced');
  return traced ? shareShapes(openings, ALIKE_SHARE_OF_DOT * Math.min(pitchMm.x, pitchMm.y)) : openings;
}

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
function laidOnBed(
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
function aimedAt(asked: readonly Opening[], model: MachineModel, bed: Bed, uprightBelowMm: number): Opening[] {
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
  const known: Box = { minX: x + x0, minY: y + y0, maxX: x + x1, maxY: y + y1 };
  const beyond = commanded.filter((opening) => !boxWithin(regionBounds(opening), known, BESIDE_MM));
  const size = (w: number, h: number): string => `${w.toFixed(0)} x ${h.toFixed(0)} mm`;
  const other =
    Math.abs(canvas.widthMm - canvasMm.widthMm) > SAME_CANVAS_MM ||
    Math.abs(canvas.heightMm - canvasMm.heightMm) > SAME_CANVAS_MM;
  return present(
    other && {
      code: 'FIELD_OTHER_CANVAS',
      message: `the profile knows the bends of the bed on a canvas of ${size(canvasMm.widthMm, canvasMm.heightMm)}, and this one is ${size(canvas.widthMm, canvas.heightMm)}: their lower left corners are taken to lie on the same spot.`,
      hint: 'Place it there in the laser’s program, or use a canvas of that size.',
    },
    beyond.length > 0 && {
      code: 'FIELD_BEYOND',
      message: `${beyond.length === 1 ? 'one opening lies' : `${beyond.length} openings lie`} beyond the ${size(x1 - x0, y1 - y0)} of the bed over which places were read; the error at the border of that area is taken for them.`,
      hint: 'Place the stencil further inside with --at-mm, or cut and scan a larger field-grid.',
    },
  );
}
