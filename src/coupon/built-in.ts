import { InputError } from '../errors.js';
import { packageJson } from '../package-file.js';
import { nearestName } from '../schema/nearest.js';
import { parseShipped } from '../schema/shipped.js';
import type { Pattern } from './pattern.js';

/** The coupons that come with the package, in the order of the work at the bench. */
export const BUILT_IN_PATTERNS = [
  'power-speed-grid',
  'scale-ruler',
  'aperture-ladder',
  'vernier',
  'witness',
  'field-grid',
] as const;

/**
 * A pattern that comes with the package, by its name.
 *
 * @throws {InputError} UNKNOWN_PATTERN with the nearest name
 */
export function builtInPattern(name: string): Pattern {
  if ((BUILT_IN_PATTERNS as readonly string[]).includes(name)) {
    return packageJson<Pattern>(`patterns/${name}.json`);
  }
  const nearest = nearestName(name, BUILT_IN_PATTERNS);
  throw new InputError({
    code: 'UNKNOWN_PATTERN',
    message: `there is no pattern "${name}".`,
    hint: `${nearest ? `Did you mean "${nearest}"? ` : ''}Built in are ${BUILT_IN_PATTERNS.join(', ')}; a pattern file of your own is given by its path.`,
  });
}

/**
 * Reads a pattern file.
 *
 * @throws {InputError} JSON_SYNTAX, UNKNOWN_KEY, BAD_VALUE with file, line and key
 */
export async function readPattern(text: string, file: string): Promise<Pattern> {
  return parseShipped<Pattern>('pattern', text, file);
}
