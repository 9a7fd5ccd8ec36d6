import type { fromJSONSchema } from 'zod';
import { packageJson } from '../package-file.js';
import { parseJsonFile, parseJsonText } from './json-file.js';
import { type JsonSchema, readInForm } from './of-form.js';

/** What is said of a value that its schema lets pass, and that is wrong all the same. */
export interface Context {
  addIssue(issue: {
    code: 'custom';
    path: (string | number)[];
    message: string;
    params?: Record<string, unknown>;
  }): void;
}

/** Takes what the schema lets pass for what the file says; what it tells of is refused. */
export type Reader<T, R> = (value: T, context: Context) => R;

const shipped = (name: string) => packageJson<JsonSchema & { $schema: string }>(`patterns/schemas/${name}.schema.json`);

/** The patterns of a schema, each with its words. */
function wordsIn(schema: object): Record<string, string> {
  const { pattern, errorMessage } = schema as JsonSchema;
  const inner = Object.values(schema).filter((value): value is object => typeof value === 'object' && value !== null);
  return Object.assign({}, ...inner.map(wordsIn), pattern && errorMessage ? { [`/${pattern}/`]: errorMessage } : {});
}

/**
 * Reads a file of a kind that has a schema in patterns/schemas.
 *
 * @param zod - says what is wrong with a file that does not fit
 * @throws {InputError} JSON_SYNTAX, UNKNOWN_KEY, BAD_VALUE with file, line and key, and what `reader` tells of
 */
export function parseShippedBy<T, R>(
  zod: { readonly fromJSONSchema: typeof fromJSONSchema },
  name: string,
  text: string,
  file: string,
  reader: Reader<T, R>,
): R {
  return read(name, text, file, reader)?.result ?? refused(zod, name, text, file, reader);
}

/** The same, where zod need not be there before it is known that it is needed. */
export async function parseShipped<T, R = T>(
  name: string,
  text: string,
  file: string,
  reader: Reader<T, R> = (value) => value as unknown as R,
): Promise<R> {
  return read(name, text, file, reader)?.result ?? refused(await import('zod'), name, text, file, reader);
}

function read<T, R>(name: string, text: string, file: string, reader: Reader<T, R>): { result: R } | undefined {
  const fits = readInForm(parseJsonText(text, file), shipped(name));
  if (!fits) return undefined;
  let isSound = true;
  const result = reader(fits.value as T, {
    addIssue: () => {
      isSound = false;
    },
  });
  return isSound ? { result } : undefined;
}

function refused<T, R>(
  { fromJSONSchema: typed }: { readonly fromJSONSchema: typeof fromJSONSchema },
  name: string,
  text: string,
  file: string,
  reader: Reader<T, R>,
): R {
  const schema = shipped(name);
  const form = typed(schema as unknown as Parameters<typeof typed>[0]);
  return parseJsonFile(
    form.transform((value, context) => reader(value as T, context as unknown as Context)),
    text,
    file,
    wordsIn(schema),
  );
}
