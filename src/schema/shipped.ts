import { fromJSONSchema, type ZodType } from 'zod';
import { kept } from '../kept.js';
import { packageJson } from '../package-file.js';
import { parseJsonFile } from './json-file.js';

interface JsonSchema {
  readonly pattern?: string;
  /** What a text of the pattern is, in words. */
  readonly errorMessage?: string;
}

const shipped = (name: string) =>
  packageJson<Parameters<typeof fromJSONSchema>[0] & object>(`patterns/schemas/${name}.schema.json`);

const known = new Map<string, ZodType>();

/** What a kind of file may hold, as it ships in patterns/schemas. */
export const shippedSchema = <T>(name: string): ZodType<T> =>
  kept(known, name, () => fromJSONSchema(shipped(name))) as ZodType<T>;

/** The patterns of a schema, each with its words. */
function wordsIn(schema: object): Record<string, string> {
  const { pattern, errorMessage } = schema as JsonSchema;
  const inner = Object.values(schema).filter((value): value is object => typeof value === 'object' && value !== null);
  return Object.assign({}, ...inner.map(wordsIn), pattern && errorMessage ? { [`/${pattern}/`]: errorMessage } : {});
}

/**
 * Reads a file of a kind that has a schema in patterns/schemas. Import this lazily: it loads zod.
 *
 * @param schema - the same with more to hold the file against
 * @throws {InputError} JSON_SYNTAX, UNKNOWN_KEY, BAD_VALUE with file, line and key
 */
export const parseShipped = <T>(name: string, text: string, file: string, schema = shippedSchema<T>(name)): T =>
  parseJsonFile(schema, text, file, wordsIn(shipped(name)));
