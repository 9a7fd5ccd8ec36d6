import { blankReadings } from '../../coupon/blank-readings.js';
import type { FeaturesFile } from '../../coupon/features.js';
import { generateCoupon } from '../../coupon/generate.js';
import type { ExportFormat } from '../../export/types.js';
import { invert, mapPoint, mapRing } from '../../geometry/affine.js';
import { move } from '../../geometry/shape-cache.js';
import { rectangle } from '../../geometry/shapes.js';
import type { Opening, Point } from '../../geometry/types.js';
import type { Sheet } from '../../layout/types.js';
import { machineMap } from '../../machine/machine-map.js';
import type { MachineModel } from '../../machine/types.js';
import { commandFor, type Pitch } from '../commanded.js';
import { workingOn } from '../working-on.js';

/** Side of the witness coupon as told to the machine, mm. */
export const WITNESS_MM = 12;
/** A witness coupon is as large as the machine makes it; further from 1 than this it would not fit its square. */
const WITNESS_SCALE_LIMIT = 0.05;

/** Whether the machine's scale is near enough to 1 for a witness coupon. */
export const hasWitness = ({ scaleX, scaleY }: MachineModel): boolean =>
  Math.abs(scaleX - 1) < WITNESS_SCALE_LIMIT && Math.abs(scaleY - 1) < WITNESS_SCALE_LIMIT;

/** A sheet as it is told to the machine, mm. */
export interface ToldSheet {
  readonly paths: readonly Opening[];
  readonly dots: readonly Opening[];
  readonly narrow: readonly {
    readonly stencil: string;
    readonly part: string;
    readonly opening?: number;
    readonly askedMm: readonly number[];
    readonly comesOutMm: readonly number[];
  }[];
  readonly canvas: { readonly widthMm: number; readonly heightMm: number };
  readonly originMm: readonly [number, number];
}

/** Everything on the sheet is corrected: marks and lettering widen with the kerf like paste openings. */
export function correctSheet(
  sheet: Sheet,
  model: MachineModel,
  pitch: Pitch,
  formats: readonly ExportFormat[],
): ToldSheet {
  const openings = sheet.openings.map(({ opening }) => opening);
  const names = [...new Set(sheet.pieces.map(({ name }) => name))].join(', ');
  const { paths, dots } = workingOn(names, () => commandFor(openings, model, pitch, formats));
  const corners = mapRing(invert(machineMap(model)), rectangle(0, 0, sheet.widthMm, sheet.heightMm));
  const minX = Math.min(...corners.map(([x]) => x));
  const minY = Math.min(...corners.map(([, y]) => y));
  const whole = (mm: number, step: number): number => Math.ceil(mm / step - 1e-6) * step;
  return {
    paths: paths.openings,
    dots: dots.openings,
    narrow: paths.narrow.map(({ opening, askedMm, comesOutMm }) => {
      const { part, number, stencil } = sheet.openings[opening - 1];
      return {
        stencil: sheet.pieces[stencil].name,
        part,
        ...(number === undefined ? {} : { opening: number }),
        askedMm,
        comesOutMm,
      };
    }),
    canvas: {
      widthMm: whole(Math.max(...corners.map(([x]) => x)) - minX, pitch.x),
      heightMm: whole(Math.max(...corners.map(([, y]) => y)) - minY, pitch.y),
    },
    originMm: [minX, minY],
  };
}

/** The witness coupons of a sheet. */
export interface Witnesses {
  readonly openings: Opening[];
  readonly features: FeaturesFile;
  readonly readings: string;
}

/** The witness coupons as they are told to the machine: uncorrected, on whole dots of the canvas. */
export async function witnessOpenings(sheet: Sheet, model: MachineModel, pitch: Pitch): Promise<Witnesses> {
  const coupon = await generateCoupon('witness', {
    widthMm: WITNESS_MM,
    heightMm: WITNESS_MM,
    pitchXMm: pitch.x,
    pitchYMm: pitch.y,
    kerfAllowanceMm: Math.max(model.kerfXMm, model.kerfYMm),
  });
  const inverse = invert(machineMap(model));
  const corners = mapRing(inverse, rectangle(0, 0, sheet.widthMm, sheet.heightMm));
  const origin: Point = [Math.min(...corners.map(([x]) => x)), Math.min(...corners.map(([, y]) => y))];
  const openings = sheet.witnessesAt.flatMap((at) => {
    const [x, y] = mapPoint(inverse, at);
    const dx = origin[0] + Math.ceil((x - origin[0]) / pitch.x) * pitch.x;
    const dy = origin[1] + Math.ceil((y - origin[1]) / pitch.y) * pitch.y;
    return coupon.openings.map((opening) => move(opening, dx, dy));
  });
  return { openings, features: coupon.features, readings: blankReadings(coupon) };
}
