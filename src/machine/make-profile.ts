import type { Reading } from '../readings/types.js';
import type { Profile, ProfileFit, ReadingSession } from './types.js';

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
