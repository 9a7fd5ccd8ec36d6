/** The part of JSON Schema (2020-12) that the schemas in patterns/schemas are written in. */
export interface JsonSchema {
  readonly type?: string | readonly string[];
  readonly const?: unknown;
  readonly enum?: readonly unknown[];
  readonly anyOf?: readonly JsonSchema[];
  readonly oneOf?: readonly JsonSchema[];
  readonly properties?: Readonly<Record<string, JsonSchema>>;
  readonly required?: readonly string[];
  readonly additionalProperties?: false | JsonSchema;
  readonly propertyNames?: JsonSchema;
  readonly prefixItems?: readonly JsonSchema[];
  readonly items?: false | JsonSchema;
  readonly minItems?: number;
  readonly maxItems?: number;
  readonly minimum?: number;
  readonly exclusiveMinimum?: number;
  readonly maximum?: number;
  readonly minLength?: number;
  readonly pattern?: string;
  readonly default?: unknown;
  /** What a text of the pattern is, in words; not of the standard. */
  readonly errorMessage?: string;
}

export type Path = readonly (string | number)[];

/** What is wrong with a part of a value; without a code what was found there is to be said, too. */
export interface Misfit {
  readonly path: Path;
  readonly message: string;
  readonly code?: string;
  readonly hint?: string;
  /** The values, or keys, of which one was expected. */
  readonly choices?: readonly unknown[];
}

/** A value of JSON with the defaults of its schema, and all that does not fit. */
export function readInForm(
  value: unknown,
  schema: JsonSchema,
): { readonly value: unknown; readonly misfits: Misfit[] } {
  const misfits: Misfit[] = [];
  return { value: taken(value, schema, [], misfits), misfits };
}

function taken(value: unknown, schema: JsonSchema, path: Path, misfits: Misfit[]): unknown {
  const alternatives = schema.anyOf ?? schema.oneOf;
  if (alternatives) return firstFit(value, alternatives, path, misfits);
  const choices = 'const' in schema ? [schema.const] : schema.enum;
  if (choices) {
    const message = `expected ${choices.map((one) => `"${one}"`).join(' or ')}`;
    if (!choices.includes(value)) misfits.push({ path, message, choices });
    return value;
  }
  const message = unlike(value, schema);
  if (message !== undefined) {
    misfits.push({ path, message });
    return undefined;
  }
  if (Array.isArray(value)) {
    const { prefixItems = [], items } = schema;
    return value.map((one, i) => taken(one, prefixItems[i] ?? (items || {}), [...path, i], misfits));
  }
  return typeof value === 'object' && value !== null ? object(value, schema, path, misfits) : value;
}

/** What a value should have been, in words; undefined where it is, but for what is in it. */
function unlike(value: unknown, schema: JsonSchema): string | undefined {
  const { minimum = -Infinity, maximum = Infinity, exclusiveMinimum = -Infinity } = schema;
  const { minLength = 0, pattern = '', errorMessage, minItems = 0, maxItems = Infinity } = schema;
  if (!isOfType(value, schema)) return `expected ${[schema.type].flat()[0]}`;
  if (typeof value === 'number') {
    if (value < minimum) return `expected a number >= ${minimum}`;
    if (value <= exclusiveMinimum) return `expected a number > ${exclusiveMinimum}`;
    return value > maximum ? `expected a number <= ${maximum}` : undefined;
  }
  if (typeof value === 'string') {
    if (value.length < minLength) return `too small: expected string to have >=${minLength} characters`;
    return new RegExp(pattern).test(value) ? undefined : (errorMessage ?? `expected a text like ${pattern}`);
  }
  if (!Array.isArray(value)) return undefined;
  if (value.length < minItems) return `too small: expected array to have >=${minItems} items`;
  return value.length > maxItems ? `too big: expected array to have <=${maxItems} items` : undefined;
}

function isOf(type: string, value: unknown): boolean {
  if (type === 'array') return Array.isArray(value);
  if (type === 'null') return value === null;
  if (type === 'object') return typeof value === 'object' && value !== null && !Array.isArray(value);
  if (type === 'integer') return Number.isSafeInteger(value);
  // 1e999 is a number in JSON, and infinite when it is read.
  return type === 'number' ? Number.isFinite(value) : typeof value === type;
}

const isOfType = (value: unknown, { type }: JsonSchema): boolean =>
  type === undefined || [type].flat().some((one) => isOf(one, value));

function object(value: object, schema: JsonSchema, path: Path, misfits: Misfit[]): unknown {
  const { properties = {}, required = [], additionalProperties = {}, propertyNames = {} } = schema;
  const made = new Map<string, unknown>();
  for (const [name, inner] of Object.entries(properties)) {
    const own = Object.hasOwn(value, name);
    if (own || required.includes(name))
      made.set(name, taken(own ? value[name as keyof typeof value] : undefined, inner, [...path, name], misfits));
    else if ('default' in inner) made.set(name, structuredClone(inner.default));
  }
  const known = Object.keys(properties);
  for (const [name, inner] of Object.entries(value)) {
    if (Object.hasOwn(properties, name)) continue;
    const at = [...path, name];
    if (additionalProperties === false) {
      misfits.push({ path: at, code: 'UNKNOWN_KEY', message: 'this key is not known here.', choices: known });
    } else if (unlike(name, propertyNames) !== undefined) misfits.push({ path: at, message: 'invalid key in record' });
    else made.set(name, taken(inner, additionalProperties, at, misfits));
  }
  return Object.fromEntries(made);
}

/** By the first of several schemas that it fits; else by one of its own type and kind, or by the likest. */
function firstFit(value: unknown, schemas: readonly JsonSchema[], path: Path, misfits: Misfit[]): unknown {
  const ofType = schemas.filter((schema) => isOfType(value, schema));
  const tries: { readonly made: unknown; readonly wrong: readonly Misfit[] }[] = [];
  for (const schema of ofType.length > 0 ? ofType : schemas) {
    const wrong: Misfit[] = [];
    const made = taken(value, schema, path, wrong);
    if (wrong.length === 0) return made;
    tries.push({ made, wrong });
  }
  const isOfKind = ({ code, choices, path: at }: Misfit): boolean =>
    code === undefined && choices !== undefined && at.length === path.length + 1 && at.at(-1) === 'kind';
  const kinds = tries.flatMap(({ wrong }) => wrong.find(isOfKind) ?? []);
  const own = tries.filter(({ wrong }) => !wrong.some((one) => kinds.includes(one)));
  if (own.length === 0) {
    const known = kinds.flatMap(({ choices = [] }) => choices);
    return taken(undefined, { enum: known }, [...path, 'kind'], misfits);
  }
  const best = own.reduce((least, one) => (one.wrong.length < least.wrong.length ? one : least));
  misfits.push(...best.wrong);
  return best.made;
}
