import type { Artwork } from '../artwork/types.js';
import { InputError, type Warning } from '../errors.js';
import { count, runsOf } from '../text.js';

/** Artwork without some of its openings; the others keep the numbers that every report gives them. */
export interface Kept {
  readonly artwork: Artwork;
  /** The number in the artwork of the opening that now stands at a place, counting from 1. */
  readonly numberAt: (place: number) => number;
}

/**
 * Leaves openings out.
 *
 * @param options.drop - their numbers; undefined or none leaves all in
 * @param options.rules - that the openings go through: those that rules give back are counted anew
 * @throws {InputError} NO_SUCH_OPENING; NOTHING_LEFT
 */
export function withoutDropped(
  artwork: Artwork,
  { drop, rules }: { readonly drop?: readonly number[]; readonly rules?: unknown },
  file: string,
): Kept {
  const anew = (place: number): number => place;
  if (!drop || drop.length === 0) return { artwork, numberAt: anew };
  const total = artwork.openings.length;
  const place = { file, key: '--drop' };
  const unknown = drop.filter((number) => number > total);
  if (unknown.length > 0) {
    throw new InputError({
      code: 'NO_SUCH_OPENING',
      place,
      message: `there ${unknown.length === 1 ? 'is no opening' : 'are no openings'} ${runsOf(unknown)}; the artwork has ${count(total, 'opening')}.`,
      hint: 'See their numbers with `apertrue number`.',
    });
  }
  const dropped = new Set(drop);
  const numbers = artwork.openings.map((_, i) => i + 1).filter((number) => !dropped.has(number));
  if (numbers.length === 0) {
    const hint = 'Name the openings that the stencil shall not have.';
    throw new InputError({ code: 'NOTHING_LEFT', place, message: 'every opening would be left out.', hint });
  }
  const told: Warning = {
    code: 'OPENINGS_DROPPED',
    message: `${count(drop.length, 'opening was', 'openings were')} left out, as told with --drop; ${count(numbers.length, 'opening')} of ${total} remain.`,
    openings: drop,
  };
  // What was odd about them is odd no longer.
  const concerns = ({ openings }: Warning): boolean =>
    openings === undefined || openings.some((one) => !dropped.has(one));
  return {
    artwork: {
      ...artwork,
      openings: numbers.map((number) => artwork.openings[number - 1]),
      warnings: [told, ...artwork.warnings.filter(concerns)],
    },
    numberAt: rules === undefined ? (at) => numbers[at - 1] : anew,
  };
}

/** A warning about openings by their places, with their numbers. */
export function numbered(warning: Warning, numberAt: Kept['numberAt']): Warning {
  return warning.openings === undefined ? warning : { ...warning, openings: warning.openings.map(numberAt) };
}

/** Numbers belong to one artwork. @throws {InputError} OPTION_FOR_ONE_FILE */
export function refuseDropOfMany(drop: readonly number[] | undefined, files: number): void {
  if (drop === undefined || files <= 1) return;
  throw new InputError({
    code: 'OPTION_FOR_ONE_FILE',
    place: { key: '--drop' },
    message: `it names openings by their numbers in one artwork, and ${files} were given.`,
    hint: 'Give the artwork that it is about alone.',
  });
}
