import type { Affine, Point } from '../geometry/types.js';
import type { MachineModel } from './types.js';

/** A as an affine map: commanded mm to film mm. Where the film lies is free, so there is no shift. */
export function machineMap(model: MachineModel): Affine {
  return { a: model.scaleX, b: model.shear, c: 0, d: model.scaleY, e: 0, f: 0 };
}

/** κ(u): full width of the kerf ellipse along a unit direction, mm. */
export function kerfAlong(model: MachineModel, [ux, uy]: Point): number {
  return Math.hypot(model.kerfXMm * ux, model.kerfYMm * uy);
}

/** The kerf's full widths in commanded mm: what the beam adds, as the machine's own dots count. */
export function commandedKerf(model: MachineModel): { x: number; y: number } {
  return { x: model.kerfXMm / model.scaleX, y: model.kerfYMm / model.scaleY };
}
