import type { Limits } from './limits.js';

/**
 * Reads a limits file.
 *
 * @throws {InputError} JSON_SYNTAX, UNKNOWN_KEY, BAD_VALUE with file, line and key
 */
export async function readLimits(text: string, file: string): Promise<Limits> {
  const [{ parseJsonFile }, { limitsSchema }] = await Promise.all([
    import('../schema/json-file.js'),
    import('./limits-schema.js'),
  ]);
  return parseJsonFile(limitsSchema, text, file);
}
