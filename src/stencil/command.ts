import type { Standing } from '../dots/area-true.js';
import { burntAbove } from '../dots/rows.js';
import { type ExportFormat, isRaster } from '../export/export-formats.js';
import type { WriteOptions } from '../export/types.js';
import { type DotImage, layDots } from '../export/write.js';
import { shareShapes } from '../geometry/alike.js';
import type { Opening } from '../geometry/types.js';
import { fullBudget } from '../geometry/work-budget.js';
import { type Corrected, corrector } from '../machine/correct-openings.js';
import { commandedKerf } from '../machine/machine-map.js';
import { type ModelSource, machineModel } from '../machine/machine-model.js';
import { withRowsApart } from '../machine/rows-apart.js';
import type { MachineModel, PlaceField } from '../machine/types.js';
import { aimedAt, type Bed, laidOnBed } from './bed.js';
import { type DotGrid, type Frame, type Pitch, refuseOutside } from './frame.js';

/** How the machine burns images: what decides which dots there are. */
export interface SweepOptions extends Pick<WriteOptions, 'scanDirection' | 'burnEveryNthRow'> {
  readonly pitchMm: Pitch;
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
  readonly frameFor: (corrected: Corrected, grid: DotGrid) => Frame;
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
  const grid: DotGrid = {
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
export function correctedForDots(asked: readonly Opening[], profile: ModelSource, pitchMm: Pitch): Corrected {
  return corrector(profile, pitchMm)(alikeWhenTraced(asked, pitchMm), UPRIGHT_SHARE_OF_DOT * pitchMm.x);
}

/** Equal pads of an image come out equal: what the tracing of each one made different is no difference in the artwork. */
function alikeWhenTraced(openings: readonly Opening[], pitchMm: Pitch): readonly Opening[] {
  const traced = openings.some(({ tag }) => tag?.drawn === 'traced');
  return traced ? shareShapes(openings, ALIKE_SHARE_OF_DOT * Math.min(pitchMm.x, pitchMm.y)) : openings;
}
