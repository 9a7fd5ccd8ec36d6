import { blankReadings } from '../../coupon/blank-readings.js';
import type { FeaturesFile } from '../../coupon/features.js';
import { generateCoupon } from '../../coupon/generate.js';
import type { ExportFormat } from '../../export/types.js';
import { invert, mapPoint } from '../../geometry/affine.js';
import { move } from '../../geometry/shape-cache.js';
import type { Opening } from '../../geometry/types.js';
import type { Sheet } from '../../layout/types.js';
import { machineMap } from '../../machine/machine-map.js';
import type { MachineModel } from '../../machine/types.js';
import { type Commanded, commandFor } from '../../stencil/command.js';
import { type Frame, frameOfSheet, type Pitch } from '../../stencil/frame.js';
import { workingOn } from '../working-on.js';

/** Side of the witness coupon, commanded mm. */
export const WITNESS_MM = 12;
/** A witness coupon is as large as the machine makes it; further from 1 than this it would not fit its square. */
const WITNESS_SCALE_LIMIT = 0.05;

/** Whether the machine's scale is near enough to 1 for a witness coupon. */
export const hasWitness = ({ scaleX, scaleY }: MachineModel): boolean =>
  Math.abs(scaleX - 1) < WITNESS_SCALE_LIMIT && Math.abs(scaleY - 1) < WITNESS_SCALE_LIMIT;

/** A part of a sheet that is narrower than the kerf. */
export interface NarrowOnSheet {
  readonly stencil: string;
  readonly part: string;
  readonly opening?: number;
  readonly askedMm: readonly number[];
  readonly comesOutMm: readonly number[];
}

/** A sheet as the machine is commanded, and what of it is narrow. */
export interface CommandedSheet {
  readonly commanded: Commanded;
  readonly narrow: readonly NarrowOnSheet[];
}

/** Everything on the sheet is corrected, marks and lettering too; only the witness coupons are cut as they are. */
export async function commandSheet(
  sheet: Sheet,
  model: MachineModel,
  pitchMm: Pitch,
  formats: readonly ExportFormat[],
  witness: boolean,
): Promise<CommandedSheet & { readonly witnesses?: Witnesses }> {
  const asked = sheet.openings.map(({ opening }) => opening);
  const frame = frameOfSheet(sheet, model, pitchMm);
  const witnesses = witness ? await witnessOpenings(sheet, model, pitchMm, frame) : undefined;
  const names = [...new Set(sheet.pieces.map(({ name }) => name))].join(', ');
  const commanded = workingOn(names, () =>
    commandFor(asked, model, { pitchMm, formats, frameFor: () => frame, uncorrected: witnesses?.openings }),
  );
  const narrow = commanded.corrected.narrow.map(({ opening, askedMm, comesOutMm }) => {
    const { part, number, stencil } = sheet.openings[opening - 1];
    return {
      stencil: sheet.pieces[stencil].name,
      part,
      ...(number === undefined ? {} : { opening: number }),
      askedMm,
      comesOutMm,
    };
  });
  return { commanded, narrow, ...(witnesses ? { witnesses } : {}) };
}

/** The witness coupons of a sheet. */
export interface Witnesses {
  readonly openings: Opening[];
  readonly features: FeaturesFile;
  readonly readings: string;
}

/** The witness coupons as the machine is commanded: uncorrected, on whole dots of the canvas. */
async function witnessOpenings(
  sheet: Sheet,
  model: MachineModel,
  pitch: Pitch,
  { originMm: origin }: Frame,
): Promise<Witnesses> {
  const coupon = await generateCoupon('witness', {
    widthMm: WITNESS_MM,
    heightMm: WITNESS_MM,
    pitchXMm: pitch.x,
    pitchYMm: pitch.y,
    kerfAllowanceMm: Math.max(model.kerfXMm, model.kerfYMm),
  });
  const inverse = invert(machineMap(model));
  const openings = sheet.witnessesAt.flatMap((at) => {
    const [x, y] = mapPoint(inverse, at);
    const dx = origin[0] + Math.ceil((x - origin[0]) / pitch.x) * pitch.x;
    const dy = origin[1] + Math.ceil((y - origin[1]) / pitch.y) * pitch.y;
    return coupon.openings.map((opening) => move(opening, dx, dy));
  });
  return { openings, features: coupon.features, readings: blankReadings(coupon) };
}
