import type { Pattern } from './pattern.js';

/**
 * Reads a pattern file.
 *
 * @throws {InputError} JSON_SYNTAX, UNKNOWN_KEY, BAD_VALUE with file, line and key
 */
export async function readPattern(text: string, file: string): Promise<Pattern> {
  const [{ parseJsonFile }, { patternSchema }] = await Promise.all([
    import('../schema/json-file.js'),
    import('./pattern-schema.js'),
  ]);
  return parseJsonFile(patternSchema, text, file);
}
