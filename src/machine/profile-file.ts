import type { Reading } from '../readings/types.js';
import { parseShipped, type Reader } from '../schema/shipped.js';
import { modelProblems } from './machine-model.js';
import {
  byParameter,
  type Measured,
  PARAMETER_NAMES,
  type ParameterName,
  type PlaceField,
  type Profile,
  type ProfileFit,
  type ReadingSession,
} from './types.js';

const LINE_WIDTH = 116;

/** What a fit and a field are made of, in the order in which it is written. */
const KEYS = [
  ...PARAMETER_NAMES,
  ...'model canvasMm widthMm heightMm areaMm terms moves shape periodMm mm'.split(' '),
  ...'value stdUncertainty interval95 assumed covariance residualSdMm dof warnings marks'.split(' '),
];
/** Digits that a person may look at: far beyond any uncertainty there is, short enough to read. */
const DIGITS = { periodMm: 9, value: 9, interval95: 9, covariance: 6, stdUncertainty: 4, residualSdMm: 4 };

function inForm(value: unknown, key = ''): unknown {
  // Places of the bed: a nanometre is beyond all that was read. Infinite numbers stay so, and become null in the file.
  if (typeof value === 'number')
    return key === 'mm'
      ? Number(value.toFixed(7))
      : Number(value.toPrecision(DIGITS[key as keyof typeof DIGITS] ?? 17));
  if (Array.isArray(value)) return value.map((one) => inForm(one, key));
  if (typeof value !== 'object' || value === null) return value;
  const own = value as Readonly<Record<string, unknown>>;
  return Object.fromEntries(
    KEYS.filter((k) => own[k] !== undefined && own[k] !== false).map((k) => [k, inForm(own[k], k)]),
  );
}

/**
 * A profile as the text of its file: keys in one order, one feature or reading a line, so that version control shows
 * what changed. The same profile gives the same text.
 *
 * @example JSON.parse(profileText(profile)).format // 'apertrue-profile'
 */
export function profileText(profile: Profile): string {
  const { format, version, name, machine, film, settings, pitchMm, fit, limits, window, field, sessions } = profile;
  const ordered = {
    format,
    version,
    name,
    machine,
    film: film && { kind: film.kind, thicknessMm: film.thicknessMm },
    settings: settings && {
      powerPercent: settings.powerPercent,
      speedMmS: settings.speedMmS,
      passes: settings.passes,
    },
    pitchMm,
    fit: inForm(fit),
    limits,
    window,
    field: field && inForm(field),
    sessions: sessions.map(({ readings: _, ...head }) => head),
    readings: sessions.flatMap(({ readings }, i) => readings.map((row) => ({ session: i + 1, ...row }))),
  };
  return `${prettyJson(JSON.parse(JSON.stringify(ordered)), '')}\n`;
}

/** JSON in which everything that fits on a line stands on one. */
function prettyJson(value: unknown, indent: string): string {
  const flat = flatJson(value);
  if (flat.length + indent.length <= LINE_WIDTH || typeof value !== 'object' || value === null) return flat;
  const inner = `${indent}  `;
  const entries = Array.isArray(value)
    ? value.map((item) => prettyJson(item, inner))
    : Object.entries(value).map(([key, item]) => `${JSON.stringify(key)}: ${prettyJson(item, inner)}`);
  const [open, close] = Array.isArray(value) ? '[]' : '{}';
  return `${open}\n${entries.map((entry) => inner + entry).join(',\n')}\n${indent}${close}`;
}

function flatJson(value: unknown): string {
  if (Array.isArray(value)) return `[${value.map(flatJson).join(', ')}]`;
  if (typeof value !== 'object' || value === null) return JSON.stringify(value);
  const entries = Object.entries(value).map(([key, item]) => `${JSON.stringify(key)}: ${flatJson(item)}`);
  return entries.length === 0 ? '{}' : `{ ${entries.join(', ')} }`;
}

/** What a profile is made of, besides its form. */
export type ProfileParts = Omit<Profile, 'format' | 'version' | 'pitchMm'>;

/** A profile that keeps the readings it was fitted from; where they lay on disk is left out. */
export function makeProfile(parts: ProfileParts): Profile {
  const canvas = parts.sessions.find((session) => session.canvas)?.canvas;
  return {
    format: 'apertrue-profile',
    version: 1,
    name: parts.name,
    machine: parts.machine,
    film: unlessEmpty(parts.film),
    settings: unlessEmpty(parts.settings),
    pitchMm: canvas && { x: canvas.pitchXMm, y: canvas.pitchYMm },
    fit: parts.fit,
    limits: unlessEmpty(parts.limits),
    window: parts.window,
    field: parts.field,
    sessions: parts.sessions.map(keptSession),
  };
}

const unlessEmpty = <T extends object>(value: T | undefined): T | undefined =>
  value && Object.keys(value).length > 0 ? value : undefined;

function keptSession(session: ReadingSession): ReadingSession {
  const say = new Map(session.features.map(({ id, say: sentence }) => [id, sentence]));
  return { ...session, readings: session.readings.map((reading) => keptReading(reading, say.get(reading.feature))) };
}

/** Without its place in a file, and without the bench sentence that the blank file puts into the note. */
function keptReading({ file: _file, line: _line, note, ...reading }: Reading, sentence: string | undefined): Reading {
  return note === undefined || note === sentence ? reading : { ...reading, note };
}

/**
 * Reads a profile (contract 3) of any released version.
 *
 * @param text - of the file, JSON; a byte order mark is accepted
 * @param file - its name, for messages
 * @throws {InputError} JSON_SYNTAX, UNKNOWN_KEY, BAD_VALUE; all problems together, each with line and key
 * @example (await parseProfile(profileText(profile), 'desk-laser.profile.json')).name // 'desk laser'
 */
export async function parseProfile(text: string, file: string): Promise<Profile> {
  return parseShipped('profile', text, file, profileOf);
}

/** What the file may leave out, or says otherwise: `null` of an uncertainty without end, a bare number of one that was not measured. */
type InFile = Omit<Profile, 'fit' | 'sessions'> & {
  readonly $schema?: string;
  readonly fit: Omit<ProfileFit, ParameterName | 'covariance'> & {
    readonly [key in ParameterName]:
      | number
      | (Omit<Measured, 'stdUncertainty'> & { readonly stdUncertainty?: number | null });
  } & { readonly covariance?: readonly (readonly (number | null)[])[] };
  readonly sessions: readonly Omit<ReadingSession, 'readings'>[];
  readonly readings: readonly (Reading & { readonly session: number })[];
};

/** An uncertainty without end is null in the file. */
const endless = (value: number | null): number => value ?? Number.POSITIVE_INFINITY;

/** A bare number is taken and not measured, for profiles that a person writes by hand. */
function measured(given: InFile['fit'][ParameterName]): Measured {
  if (typeof given === 'number') return { value: given, stdUncertainty: Number.POSITIVE_INFINITY, assumed: true };
  return { ...given, stdUncertainty: endless(given.stdUncertainty === undefined ? 0 : given.stdUncertainty) };
}

const profileOf: Reader<InFile, Profile> = ({ $schema: _, fit: given, sessions, readings, ...rest }, refuse) => {
  const numbers = byParameter((name) => measured(given[name]));
  for (const { message, hint = '', place } of modelProblems(byParameter((name) => numbers[name].value)))
    refuse(['fit', place?.key ?? ''], `${message} ${hint}`.trim());
  readings.forEach(({ session }, i) => {
    if (session > sessions.length)
      refuse(['readings', i, 'session'], `expected the number of one of ${sessions.length} session(s)`);
  });
  if (rest.field) refuseField(rest.field, (key, message) => refuse(['field', key], message));
  const covariance = given.covariance?.map((row) => row.map(endless)) ?? PARAMETER_NAMES.map(() => [0, 0, 0, 0, 0]);
  return {
    ...rest,
    fit: { ...given, ...numbers, covariance },
    sessions: sessions.map((head, i) => ({
      ...head,
      readings: readings.filter(({ session }) => session === i + 1).map(({ session: __, ...row }) => row),
    })),
  };
};

/** What no bed is bent like. */
function refuseField(
  { areaMm: [x0, y0, x1, y1], terms, covariance }: PlaceField,
  refuse: (key: string, message: string) => void,
): void {
  if (!(x1 > x0 && y1 > y0)) refuse('areaMm', 'expected x0, y0, x1, y1 with x1 > x0 and y1 > y0');
  if (terms.some(({ shape, periodMm }) => /^(sin|cos)/.test(shape) !== (periodMm !== undefined)))
    refuse('terms', 'expected a periodMm for sines, and for nothing else');
  if ([covariance, ...covariance].some((row) => row.length !== terms.length))
    refuse('covariance', 'expected as many rows and columns as there are terms');
  if (terms.reduce((sum, { mm }) => sum + Math.abs(mm), 0) >= 0.05 * Math.max(x1 - x0, y1 - y0))
    refuse('terms', 'expected terms that move places by a few percent of the bed at most');
}
