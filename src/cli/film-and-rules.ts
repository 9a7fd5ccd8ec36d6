import { InputError } from '../errors.js';
import type { Opening } from '../geometry/types.js';
import type { Profile } from '../machine/types.js';
import { packageFile } from '../package-file.js';
import { type LaserLimits, laserLimits } from '../rules/film.js';
import { readRules } from '../rules/treat/read-rules.js';
import type { RuleSet } from '../rules/treat/rule-types.js';
import { withFileMarks } from '../rules/treat/svg-mark.js';
import { nearestName } from '../schema/nearest.js';
import type { Io } from './io.js';
import { loadProfile } from './load-profile.js';

const SHIPPED = packageFile('patterns/rules/');

/**
 * The text of a rule set: a file by its path, or one that ships with the package by its name. Text, because a rule set
 * itself holds functions, which can't go to another thread.
 *
 * @throws {InputError} RULES_UNKNOWN
 */
export async function rulesText(nameOrFile: string, io: Io): Promise<{ text: string; file: string }> {
  if (await io.exists(nameOrFile)) return textOf(nameOrFile, io);
  if (/^[\w-]+$/.test(nameOrFile)) {
    const shipped = `${SHIPPED}${nameOrFile}.json`;
    if (await io.exists(shipped)) return textOf(shipped, io);
  }
  const names = (await io.expand(`${SHIPPED.replaceAll('\\', '/')}*.json`)).map((path) =>
    path.replace(/^.*[\\/]/, '').replace(/\.json$/, ''),
  );
  const nearest = nearestName(nameOrFile, names);
  throw new InputError({
    code: 'RULES_UNKNOWN',
    message: `there is no rule set or file "${nameOrFile}".`,
    hint: nearest ? `Did you mean "${nearest}"?` : `Rule sets by name: ${names.join(', ')}; or give a file.`,
  });
}

async function textOf(file: string, io: Io): Promise<{ text: string; file: string }> {
  return { text: new TextDecoder().decode(await io.readFile(file)), file };
}

/** The rules that the options name, if they name any. */
export async function rulesOf(
  { rules, thicknessMm }: { readonly rules?: string; readonly thicknessMm?: number },
  io: Io,
): Promise<RulesToApply | undefined> {
  return rules === undefined ? undefined : { ...(await rulesText(rules, io)), thicknessMm };
}

/** A thickness for rules that nobody asks for. */
export const idleThickness = ({ rules, thicknessMm }: { readonly rules?: string; readonly thicknessMm?: number }) =>
  [
    thicknessMm !== undefined && rules === undefined,
    '--thickness-mm',
    'it is for the rules, and there are none',
    'Give --rules too.',
  ] as const;

/** A rule set on its way into a job: plain data, so that it can go to another thread. */
export interface RulesToApply {
  readonly text: string;
  readonly file: string;
  /** Film thickness, mm; not given: the profile's. */
  readonly thicknessMm?: number;
}

/**
 * Openings on their way through rules, if there are any.
 *
 * @param bytes - the file that the openings were read from: rules that it has been through leave them alone
 */
export async function ruled(
  openings: readonly Opening[],
  bytes: Uint8Array,
  rules: RulesToApply | undefined,
): Promise<{ readonly openings: readonly Opening[]; readonly rules?: RuleSet; readonly thicknessMm?: number }> {
  if (!rules) return { openings };
  const { text, file, thicknessMm } = rules;
  return { openings: withFileMarks(openings, bytes), rules: await readRules(text, file), thicknessMm };
}

/** The film and the laser as a command was told of them. */
export interface FilmFacts {
  readonly thicknessMm: number;
  readonly profile?: Profile;
  readonly profileLimits: LaserLimits;
}

/**
 * Film thickness and the laser's limits from the options, else from the profile.
 *
 * @throws {InputError} THICKNESS_UNKNOWN when neither says how thick the film is
 */
export async function filmFacts(
  values: { readonly profile?: string; readonly thicknessMm?: number },
  io: Io,
): Promise<FilmFacts> {
  const profile = values.profile === undefined ? undefined : (await loadProfile(values.profile, io)).profile;
  const thicknessMm = values.thicknessMm ?? profile?.film?.thicknessMm;
  if (thicknessMm === undefined) {
    throw new InputError({
      code: 'THICKNESS_UNKNOWN',
      place: values.profile === undefined ? undefined : { file: values.profile, key: 'film.thicknessMm' },
      message: 'the thickness of the film is not known.',
      hint: 'Give --thickness-mm, for example 0.1, or a profile that says it.',
    });
  }
  return { thicknessMm, profile, profileLimits: laserLimits(profile?.limits) };
}
