import { InputError } from '../../errors.js';
import { openingCentroid } from '../../geometry/area.js';
import type { Point, Region } from '../../geometry/types.js';
import type { KnownDistance } from '../types.js';

/**
 * By how much artwork has to be scaled so that the centres of two openings lie as far apart as they should.
 *
 * @param tallness - of pixels that are not square: height over width
 */
export function scaleFromDistance(
  openings: readonly Region[],
  known: KnownDistance,
  file: string | undefined,
  tallness = 1,
): number {
  const refuse = (message: string): InputError =>
    new InputError({
      code: 'KNOWN_DISTANCE',
      place: { file, key: 'knownDistance' },
      message,
      hint: 'Openings are numbered from 1; the command `number` shows them. Name two that lie far apart.',
    });
  const centre = (number: number): Point => {
    const opening = openings[number - 1];
    if (!opening) throw refuse(`opening ${number} was named, but the artwork has only ${openings.length}.`);
    return openingCentroid(opening);
  };
  const [p, q] = [centre(known.from), centre(known.to)];
  const drawn = Math.hypot(p[0] - q[0], (p[1] - q[1]) * tallness);
  if (drawn > 0 && known.distanceMm > 0) return known.distanceMm / drawn;
  throw refuse(
    `the centres of openings ${known.from} and ${known.to} lie ${drawn} apart and should lie ${known.distanceMm} mm apart.`,
  );
}
