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

/** What no JSON value is: a value that does not fit. */
const UNFIT = Symbol('unfit');

/**
 * A value of JSON with the defaults of its schema, where it fits; undefined where it does not. Only whether: what is wrong,
 * and where, is left to a library that takes longer to load than most files to read. A test holds the two together.
 */
export function readInForm(value: unknown, schema: JsonSchema): { readonly value: unknown } | undefined {
  const made = taken(value, schema);
  return made === UNFIT ? undefined : { value: made };
}

function taken(value: unknown, schema: JsonSchema): unknown {
  const choices = schema.anyOf ?? schema.oneOf;
  if (choices) return firstFit(choices.map((one) => taken(value, one)));
  if (schema.type !== undefined && ![schema.type].flat().some((type) => isOf(type, value))) return UNFIT;
  if ('const' in schema && value !== schema.const) return UNFIT;
  if (schema.enum && !schema.enum.includes(value)) return UNFIT;
  if (typeof value === 'number') return within(value, schema) ? value : UNFIT;
  if (typeof value === 'string') return isWritten(value, schema) ? value : UNFIT;
  if (Array.isArray(value)) return list(value, schema);
  return typeof value === 'object' && value !== null ? object(value, schema) : value;
}

function isOf(type: string, value: unknown): boolean {
  if (type === 'array') return Array.isArray(value);
  if (type === 'null') return value === null;
  if (type === 'object') return typeof value === 'object' && value !== null && !Array.isArray(value);
  if (type === 'integer') return Number.isSafeInteger(value);
  // 1e999 is a number in JSON, and infinite when it is read.
  return type === 'number' ? Number.isFinite(value) : typeof value === type;
}

const within = (value: number, { minimum = -Infinity, maximum = Infinity, exclusiveMinimum = -Infinity }: JsonSchema) =>
  value >= minimum && value <= maximum && value > exclusiveMinimum;

const isWritten = (value: string, { minLength = 0, pattern = '' }: JsonSchema): boolean =>
  value.length >= minLength && new RegExp(pattern).test(value);

function list(values: readonly unknown[], schema: JsonSchema): unknown {
  const { prefixItems = [], items, minItems = 0, maxItems = Infinity } = schema;
  if (values.length < minItems || values.length > maxItems) return UNFIT;
  const made = values.map((value, i) => part(value, prefixItems[i] ?? items));
  return made.includes(UNFIT) ? UNFIT : made;
}

function object(value: object, schema: JsonSchema): unknown {
  const { properties = {}, required = [], additionalProperties, propertyNames = {} } = schema;
  if (required.some((name) => !Object.hasOwn(value, name))) return UNFIT;
  const own = Object.entries(properties).flatMap(([name, inner]): [string, unknown][] => {
    if (Object.hasOwn(value, name)) return [[name, taken(value[name as keyof typeof value], inner)]];
    return 'default' in inner ? [[name, structuredClone(inner.default)]] : [];
  });
  const others = Object.entries(value).filter(([name]) => !Object.hasOwn(properties, name));
  const made = [
    ...own,
    ...others.map(([name, inner]) => [
      name,
      taken(name, propertyNames) === UNFIT ? UNFIT : part(inner, additionalProperties),
    ]),
  ];
  return made.some(([, inner]) => inner === UNFIT) ? UNFIT : Object.fromEntries(made);
}

const firstFit = (made: readonly unknown[]): unknown => {
  const at = made.findIndex((one) => one !== UNFIT);
  return at < 0 ? UNFIT : made[at];
};

const part = (value: unknown, schema: false | JsonSchema = {}): unknown =>
  schema === false ? UNFIT : taken(value, schema);
