import type { PixelRing } from './follow.js';

/** Directions in which a fitted outline is held to its stairs. */
const DIRECTIONS = Array.from({ length: 32 }, (_, k) => {
  const angle = (k * Math.PI) / 16;
  const [ux, uy] = [Math.cos(angle), Math.sin(angle)];
  // A wall runs between the centre of the last open pixel and that of the next one in its row or column.
  return { ux, uy, beyondPx: Math.max(Math.abs(ux), Math.abs(uy)) - (Math.abs(ux) + Math.abs(uy)) / 2 };
});
/** For rounding, and for sides that are not quite right. */
const SLACK_PX = 0.05;

/**
 * Whether an outline lies no further out than its stairs allow: arcs through the few steps of a round corner may bulge
 * beyond all samples.
 *
 * @param flat - x, y, x, y … in padded pixels
 * @param slackPx - more for sharp corners, whose tips no sample sees
 */
export function isWithinReach(flat: readonly number[], { xs, ys }: PixelRing, slackPx = SLACK_PX): boolean {
  return DIRECTIONS.every(({ ux, uy, beyondPx }) => {
    let reach = -Infinity;
    for (let i = 0; i < xs.length; i += 1) reach = Math.max(reach, ux * xs[i] + uy * ys[i]);
    const most = reach + beyondPx + slackPx;
    for (let i = 0; i < flat.length; i += 2) if (ux * flat[i] + uy * flat[i + 1] > most) return false;
    return true;
  });
}
