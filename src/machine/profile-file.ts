import type { Reading } from '../readings/types.js';
import type { Measured, PlaceField, Profile, ProfileFit, ReadingSession } from './types.js';

const LINE_WIDTH = 116;

/** Digits that a person may look at: far beyond any uncertainty there is, short enough to read. */
const VALUE_DIGITS = 9;
const UNCERTAINTY_DIGITS = 4;
const COVARIANCE_DIGITS = 6;

/** Infinite ones stay so, and become null in the file. */
const toDigits = (value: number, digits: number): number => Number(value.toPrecision(digits));

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
    fit: roundedFit(fit),
    limits,
    window,
    field: field && roundedField(field),
    sessions: sessions.map(({ readings: _, ...head }) => head),
    readings: sessions.flatMap(({ readings }, i) => readings.map((row) => ({ session: i + 1, ...row }))),
  };
  return `${prettyJson(JSON.parse(JSON.stringify(ordered)), '')}\n`;
}

function roundedFit(fit: ProfileFit): ProfileFit {
  return {
    scaleX: rounded(fit.scaleX),
    scaleY: rounded(fit.scaleY),
    shear: rounded(fit.shear),
    kerfXMm: rounded(fit.kerfXMm),
    kerfYMm: rounded(fit.kerfYMm),
    model: fit.model,
    covariance: fit.covariance.map((row) => row.map((value) => toDigits(value, COVARIANCE_DIGITS))),
    residualSdMm: toDigits(fit.residualSdMm, UNCERTAINTY_DIGITS),
    dof: fit.dof,
    warnings: fit.warnings,
  };
}

/** Terms count in mm of the bed: a nanometre is beyond all that was read. */
function roundedField(field: PlaceField): PlaceField {
  return {
    canvasMm: field.canvasMm,
    areaMm: field.areaMm,
    terms: field.terms.map(({ moves, shape, periodMm, mm, stdUncertainty }) => ({
      moves,
      shape,
      ...(periodMm === undefined ? {} : { periodMm: toDigits(periodMm, VALUE_DIGITS) }),
      mm: Number(mm.toFixed(7)),
      stdUncertainty: toDigits(stdUncertainty, UNCERTAINTY_DIGITS),
    })),
    covariance: field.covariance.map((row) => row.map((value) => toDigits(value, COVARIANCE_DIGITS))),
    residualSdMm: toDigits(field.residualSdMm, UNCERTAINTY_DIGITS),
    dof: field.dof,
    marks: field.marks,
  };
}

function rounded({ value, stdUncertainty, interval95, assumed }: Measured): Measured {
  return {
    value: toDigits(value, VALUE_DIGITS),
    stdUncertainty: toDigits(stdUncertainty, UNCERTAINTY_DIGITS),
    ...(interval95
      ? { interval95: [toDigits(interval95[0], VALUE_DIGITS), toDigits(interval95[1], VALUE_DIGITS)] as const }
      : {}),
    ...(assumed ? { assumed } : {}),
  };
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
export interface ProfileParts
  extends Pick<Profile, 'name' | 'machine' | 'film' | 'settings' | 'window' | 'limits' | 'field'> {
  readonly fit: ProfileFit;
  readonly sessions: readonly ReadingSession[];
}

/** A profile that keeps the readings it was fitted from; where they lay on disk is left out. */
export function makeProfile(parts: ProfileParts): Profile {
  const canvas = parts.sessions.find((session) => session.canvas)?.canvas;
  return {
    format: 'apertrue-profile',
    version: 1,
    name: parts.name,
    ...optional('machine', parts.machine),
    ...optional('film', parts.film),
    ...optional('settings', parts.settings),
    ...(canvas ? { pitchMm: { x: canvas.pitchXMm, y: canvas.pitchYMm } } : {}),
    fit: parts.fit,
    ...optional('limits', parts.limits),
    ...optional('window', parts.window),
    ...optional('field', parts.field),
    sessions: parts.sessions.map(keptSession),
  };
}

function optional<K extends string, T>(key: K, value: T | undefined): { [key in K]?: T } {
  const empty = value === undefined || (typeof value === 'object' && value !== null && Object.keys(value).length === 0);
  return (empty ? {} : { [key]: value }) as { [key in K]?: T };
}

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
  const [{ parseJsonFile }, { profileSchema }] = await Promise.all([
    import('../schema/json-file.js'),
    import('./profile-schema.js'),
  ]);
  const { $schema, ...profile } = parseJsonFile(profileSchema, text, file) as Profile & { $schema?: string };
  return profile;
}
