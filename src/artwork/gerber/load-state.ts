import { IDENTITY, rotation } from '../../geometry/affine.js';
import type { Affine } from '../../geometry/types.js';

/** How an aperture is turned before it is used: the LM, LR and LS commands. */
export interface LoadState {
  readonly mirrorX: boolean;
  readonly mirrorY: boolean;
  readonly angleDeg: number;
  readonly scale: number;
}

export const PLAIN_LOAD: LoadState = { mirrorX: false, mirrorY: false, angleDeg: 0, scale: 1 };

/** The map an aperture goes through: mirrored, then turned, then scaled about its origin. */
export function loadMap({ mirrorX, mirrorY, angleDeg, scale }: LoadState): Affine {
  const turn = rotation(angleDeg);
  // LMX mirrors along X, so x changes its sign.
  const sx = (mirrorX ? -1 : 1) * scale;
  const sy = (mirrorY ? -1 : 1) * scale;
  return { ...IDENTITY, a: turn.a * sx, b: turn.b * sy, c: turn.c * sx, d: turn.d * sy };
}

export function isPlain(load: LoadState): boolean {
  return !load.mirrorX && !load.mirrorY && load.angleDeg === 0 && load.scale === 1;
}

/** A name for one state, to remember shapes by. */
export function loadKey({ mirrorX, mirrorY, angleDeg, scale }: LoadState): string {
  return `${mirrorX ? 'X' : ''}${mirrorY ? 'Y' : ''}${angleDeg},${scale}`;
}
