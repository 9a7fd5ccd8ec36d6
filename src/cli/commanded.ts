import type { ExportFormat } from '../export/types.js';
import { isRaster } from '../export/write.js';
import { compose, IDENTITY, rotation, scaling } from '../geometry/affine.js';
import type { Affine, Opening } from '../geometry/types.js';
import { type Corrected, type Corrector, corrector } from '../machine/correct-openings.js';
import type { ModelSource } from '../machine/machine-model.js';

export type Turn = 0 | 90 | 180 | 270;

/** Whether a layer is mirrored: bottom layers are, unless the user says otherwise. */
export function isMirrored(choice: 'auto' | 'yes' | 'no' | undefined, side: 'top' | 'bottom' | undefined): boolean {
  return choice === 'yes' || (choice !== 'no' && side === 'bottom');
}

/** Mirroring and turning come before the correction: the machine's axes do not turn with the artwork. */
export function laying(mirrored: boolean, rotateDeg: Turn): Affine {
  if (!mirrored && rotateDeg === 0) return IDENTITY;
  return compose(rotation(rotateDeg), mirrored ? scaling(-1, 1) : IDENTITY);
}

/** The share of a dot by which a wall may lean and still be drawn upright. */
const UPRIGHT_SHARE_OF_DOT = 0.34;

/** Openings corrected for dots: walls that lean by less than a third of a dot are kept upright. */
export function correctForDots(openings: readonly Opening[], correct: Corrector, pitchMm: Pitch): Corrected {
  return correct(openings, UPRIGHT_SHARE_OF_DOT * pitchMm.x);
}

/** Distance between two neighbouring dots, mm. */
export interface Pitch {
  readonly x: number;
  readonly y: number;
}

/** What to tell the machine: in paths, which are sheared exactly, and in dots. */
export interface Commanded {
  readonly paths: Corrected;
  readonly dots: Corrected;
}

/**
 * Corrects openings for the formats that are asked for; each way only once, and only where some format needs it.
 *
 * @param forDots - gives the openings to correct for dots, where they are others; called only when needed
 */
export function commandFor(
  openings: readonly Opening[],
  profile: ModelSource,
  pitchMm: Pitch,
  formats: readonly ExportFormat[],
  forDots: () => readonly Opening[] = () => openings,
): Commanded {
  const correct = corrector(profile, pitchMm);
  const drawn = formats.some(isRaster) ? forDots() : undefined;
  // Shapes that were made alike are near those of the paths, but not the same.
  const correctDots = drawn === openings ? correct : corrector(profile, pitchMm);
  const dots = drawn && correctForDots(drawn, correctDots, pitchMm);
  const needsPaths = !dots || formats.some((format) => !isRaster(format));
  const paths = needsPaths ? correct(openings) : dots;
  return { paths, dots: dots ?? paths };
}
