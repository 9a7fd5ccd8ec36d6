import { InputError } from '../../errors.js';
import { openingCentroid } from '../../geometry/area.js';
import type { Opening } from '../../geometry/types.js';
import type { KnownDistance } from '../types.js';

/** By how much a drawing has to be scaled so that the centres of two openings lie as far apart as they should. */
export function scaleFromDistance(openings: readonly Opening[], known: KnownDistance, file?: string): number {
  const centre = (number: number): [number, number] => {
    const opening = openings[number - 1];
    if (opening) return openingCentroid(opening);
    throw new InputError({
      code: 'KNOWN_DISTANCE',
      place: { file, key: 'knownDistance' },
      message: `opening ${number} was named, but the artwork has only ${openings.length}.`,
      hint: 'Openings are numbered from 1 in the order of the artwork.',
    });
  };
  const [p, q] = [centre(known.from), centre(known.to)];
  const drawn = Math.hypot(p[0] - q[0], p[1] - q[1]);
  if (!(drawn > 0) || !(known.distanceMm > 0)) {
    throw new InputError({
      code: 'KNOWN_DISTANCE',
      place: { file, key: 'knownDistance' },
      message: `the centres of openings ${known.from} and ${known.to} lie ${drawn} mm apart and should lie ${known.distanceMm} mm apart.`,
      hint: 'Name two openings that lie far apart.',
    });
  }
  return known.distanceMm / drawn;
}
