import { generateCoupon } from '../../coupon/generate.js';
import type { Coupon } from '../../coupon/types.js';
import type { Standing } from '../../dots/rasterise.js';
import { InputError, inFile } from '../../errors.js';
import type { ExportFormat } from '../../export/export-formats.js';
import { invert, mapPoint } from '../../geometry/affine.js';
import { openingArea, openingPerimeter } from '../../geometry/area.js';
import { move } from '../../geometry/copies.js';
import type { Opening, PerAxis, Point } from '../../geometry/types.js';
import type { FilmSheet, LaidStencil, SheetPart } from '../../layout/types.js';
import type { Corrected } from '../../machine/correct-openings.js';
import { machineMap } from '../../machine/machine-model.js';
import type { MachineModel, PlaceField } from '../../machine/types.js';
import { bedWarnings, commandFor, correctedForDots } from '../../stencil/command.js';
import type { Fault, FaultKind } from '../../stencil/faults.js';
import { dotCorner, frameOfSheet } from '../../stencil/frame.js';
import { checkCommanded } from '../../stencil/make-stencil.js';

/** Side of the witness coupon, commanded mm. */
export const WITNESS_MM = 12;
/** A witness coupon is as large as the machine makes it; further from 1 than this it would not fit its square. */
const WITNESS_SCALE_LIMIT = 0.05;
/** Its letter, which grows with the kerf, has no more room in the square, mm. */
const WITNESS_KERF_LIMIT_MM = 0.5;

/** Whether the machine's scale is near enough to 1, and its kerf small enough, for a witness coupon. */
export const hasWitness = ({ scaleX, scaleY, kerfXMm, kerfYMm }: MachineModel): boolean =>
  Math.abs(scaleX - 1) < WITNESS_SCALE_LIMIT &&
  Math.abs(scaleY - 1) < WITNESS_SCALE_LIMIT &&
  Math.max(kerfXMm, kerfYMm) <= WITNESS_KERF_LIMIT_MM;

/** A sheet as the machine is commanded, and what of it is narrow. */
export type CommandedSheet = Omit<Awaited<ReturnType<typeof commandSheet>>, 'witness'>;
/** A part of a sheet that is narrower than the kerf. */
export type NarrowOnSheet = CommandedSheet['narrow'][number];
/** Something on a sheet that will not come out as asked; `opening` counts everything on the sheet. */
export type FaultOnSheet = Fault & ReturnType<typeof onSheet>;

const STANDING: Readonly<Record<SheetPart, Standing>> = {
  paste: 'first',
  ...{ hole: 'yields', 'corner mark': 'yields', 'outline tick': 'yields' },
  lettering: 'for the eye',
};

/** Everything on the sheet is corrected, marks and lettering too; only the witness coupons are cut as they are. */
export async function commandSheet(
  sheet: FilmSheet,
  model: MachineModel,
  pitchMm: PerAxis,
  formats: readonly ExportFormat[],
  witness: boolean,
  field?: PlaceField,
) {
  const asked = sheet.openings.map(({ opening }) => opening);
  const coupon = witness ? await witnessCoupon(model, pitchMm) : undefined;
  const names = [...new Set(sheet.pieces.map(({ name }) => name))].join(', ');
  const back = invert(machineMap(model));
  /** As the machine is commanded: uncorrected, on whole dots of the canvas. */
  const witnessAt = ({ openings }: Coupon, place: Point, [x0, y0]: Point): Opening[] => {
    const [x, y] = mapPoint(back, place);
    const onDots = (mm: number, from: number, pitch: number): number => from + Math.ceil((mm - from) / pitch) * pitch;
    return openings.map((opening) => move(opening, onDots(x, x0, pitchMm.x), onDots(y, y0, pitchMm.y)));
  };
  const commanded = workingOn(names, () =>
    commandFor(asked, model, {
      pitchMm,
      formats,
      field,
      standing: (opening) => STANDING[sheet.openings[opening - 1].part],
      frameFor: (corrected) => frameOfSheet(sheet, model, pitchMm, firstPaste(sheet, corrected)),
      uncorrected: ({ originMm }) => (coupon ? sheet.witnessesAt.flatMap((at) => witnessAt(coupon, at, originMm)) : []),
    }),
  );
  const nameOf = (opening: number) => onSheet(sheet, opening);
  const narrow = commanded.corrected.narrow.map(({ opening, askedMm, comesOutMm }) => {
    const { number, ...place } = nameOf(opening);
    return { ...place, opening: number, askedMm, comesOutMm };
  });
  // As of one stencil alone: letters and marks have figures of their own, which nobody asks for.
  const filmOf = (opening: number): number | undefined => {
    const { part, stencil } = sheet.openings[opening - 1];
    return part === 'paste' ? stencil : undefined;
  };
  const check = checkCommanded(asked, commanded, model, filmOf);
  const { x, y } = commanded.sweep.pitchMm;
  const matters = (fault: FaultOnSheet): boolean =>
    isMeasured(fault) || spoils(fault, asked[fault.opening - 1], Math.max(x, y));
  return {
    commanded,
    narrow,
    warnings: [
      ...commanded.corrected.warnings,
      ...bedWarnings(commanded.corrected.openings, commanded.frame, commanded.bed),
    ],
    figures: check.figures,
    faults: check.faults.map((fault) => ({ ...fault, ...nameOf(fault.opening) })).filter(matters),
    witness: coupon,
  };
}

/** Names the stencils that were too much for a step that knows only openings. */
function workingOn<T>(names: string, work: () => T): T {
  try {
    return work();
  } catch (error) {
    throw error instanceof InputError && error.code === 'TOO_MUCH' ? inFile(error, names) : error;
  }
}

/**
 * Moves stencils by less than a dot to where their paste gets the dots that `correct` gives it, the first one's as they
 * are: so equal stencils have equal dots, too.
 */
export function onWholeDots(
  stencils: readonly LaidStencil[],
  model: MachineModel,
  pitchMm: PerAxis,
): (corners: readonly Point[]) => readonly Point[] {
  const map = machineMap(model);
  const known = new Map<LaidStencil, Point | undefined>();
  for (const one of new Set(stencils)) {
    const paste = one.openings.flatMap(({ part, opening }) => (part === 'paste' ? [opening] : []));
    known.set(one, dotCorner(correctedForDots(paste, model, pitchMm).openings, pitchMm));
  }
  return (corners) => {
    const commanded = corners.map((corner) => mapPoint(invert(map), corner));
    const first = known.get(stencils[0]);
    const whole = (i: number, axis: 0 | 1, pitch: number): number => {
      const own = known.get(stencils[i]);
      const [from, to] = [commanded[0][axis], commanded[i][axis]];
      if (!own || !first) return to;
      const apart = from + first[axis] - own[axis];
      return apart + Math.round((to - apart) / pitch) * pitch;
    };
    const moved = corners.map((_, i) => mapPoint(map, [whole(i, 0, pitchMm.x), whole(i, 1, pitchMm.y)]));
    // None leaves the sheet.
    const over = [0, 1].map((axis) => Math.min(0, ...moved.map((at) => at[axis])));
    return moved.map(([x, y]): Point => [x - over[0], y - over[1]]);
  };
}

/** Which stencil's what an opening of a sheet is; of paste its number in the artwork. */
export function onSheet(sheet: FilmSheet, opening: number) {
  const { part, number, stencil } = sheet.openings[opening - 1];
  return { stencil: sheet.pieces[stencil].name, part, number };
}

/** Letters are read, and an eye lays a board to corner marks: a dot or half a stroke more or less is no fault. */
const MEASURES: readonly FaultKind[] = ['size', 'area', 'place'];
const isMeasured = ({ part }: FaultOnSheet): boolean => part !== 'lettering' && part !== 'corner mark';

function spoils({ what, lost }: FaultOnSheet, opening: Opening, dotMm: number): boolean {
  const strokeMm = (2 * openingArea(opening)) / openingPerimeter(opening);
  const isSliver = lost !== undefined && Math.min(...lost.sizeMm) < Math.max(dotMm, strokeMm / 2);
  return what.some((kind) => !MEASURES.includes(kind) && !(kind === 'part missing' && isSliver));
}

/** The paste of the first stencil, corrected: it gets the very dots that `correct` gives it. */
function firstPaste({ openings }: FilmSheet, corrected: Corrected): Opening[] {
  return corrected.openings.filter((_, i) => {
    const { part, stencil } = openings[corrected.numbers[i] - 1];
    return part === 'paste' && stencil === 0;
  });
}

const witnessCoupon = (model: MachineModel, pitch: PerAxis): Promise<Coupon> =>
  generateCoupon('witness', {
    widthMm: WITNESS_MM,
    heightMm: WITNESS_MM,
    pitchXMm: pitch.x,
    pitchYMm: pitch.y,
    kerfAllowanceMm: Math.max(model.kerfXMm, model.kerfYMm),
  });
