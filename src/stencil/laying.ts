import { composeMaps, IDENTITY, rotation, scaling } from '../geometry/affine.js';
import type { Affine } from '../geometry/types.js';

export type Turn = 0 | 90 | 180 | 270;

/** Whether a layer is mirrored: bottom layers are, unless the user says otherwise. */
export function isMirrored(choice: 'auto' | 'yes' | 'no' | undefined, side: 'top' | 'bottom' | undefined): boolean {
  return choice === 'yes' || (choice !== 'no' && side === 'bottom');
}

/** Mirroring and turning come before the correction: the machine's axes do not turn with the artwork. */
export function laying(mirrored: boolean, rotateDeg: Turn): Affine {
  if (!mirrored && rotateDeg === 0) return IDENTITY;
  return composeMaps(rotation(rotateDeg), mirrored ? scaling(-1, 1) : IDENTITY);
}
