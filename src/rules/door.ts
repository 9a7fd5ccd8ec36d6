import { InputError, type Warning } from '../errors.js';
import { openingArea } from '../geometry/area.js';
import type { Opening } from '../geometry/types.js';

/** Openings smaller than this, mm², are no openings: a square of a tenth of a micrometre. */
export const NO_AREA_MM2 = 1e-8;

/**
 * Makes sure that openings can be measured.
 *
 * @returns a warning for openings without area, which are left alone
 * @throws {InputError} BAD_OPENING for rings of fewer than three points or coordinates that are no numbers
 */
export function checkOpeningsAtDoor(openings: readonly Opening[]): Warning[] {
  openings.forEach(({ outer, islands }, i) => {
    for (const ring of [outer, ...islands]) {
      const short = ring.length < 3;
      if (!short && ring.every(([x, y]) => Number.isFinite(x) && Number.isFinite(y))) continue;
      throw new InputError({
        code: 'BAD_OPENING',
        message: `opening ${i + 1} has ${short ? `a ring of ${ring.length} points, three are the least` : 'a coordinate that is no number'}.`,
        hint: 'Read the artwork with readArtwork, or give rings of at least three points in mm.',
      });
    }
  });
  const empty = openings.flatMap((opening, i) => (openingArea(opening) < NO_AREA_MM2 ? [i + 1] : []));
  if (empty.length === 0) return [];
  return [
    {
      code: 'OPENING_WITHOUT_AREA',
      message: `${empty.length} ${empty.length === 1 ? 'opening has' : 'openings have'} no area and will not be cut.`,
      hint: 'Look at the artwork there.',
      openings: empty,
    },
  ];
}
