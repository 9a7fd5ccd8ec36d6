import { dirname, join, relative, resolve } from 'node:path';
import type { Command } from 'commander';
import { BUILT_IN_PATTERNS } from '../coupon/built-in.js';
import { InputError, type Warning } from '../errors.js';
import { COUPON_FORMATS } from '../export/export-formats.js';
import { doubtIn, openDoubts, refusedDays, settleDoubt } from '../fit/drift/session-days.js';
import { kept, present } from '../kept.js';
import { refuseFilm } from '../machine/film-hazards.js';
import { parseProfile } from '../machine/profile-file.js';
import type { Profile } from '../machine/types.js';
import { PROJECT_FILE, type Project, parseProject } from '../project/project.js';
import { decodeText } from '../readings/csv-rows.js';
import type { Io, RunState } from './io.js';
import { sayWarnings, shellQuoted } from './tell.js';

/** A project file and where it lies. */
export interface FoundProject {
  readonly project: Project;
  /** As shown to a person. */
  readonly file: string;
  /** The profile that it names, as seen from where the user is. */
  readonly profile?: string;
  /** Folder for results: the user's own settings mean it from where the user is. */
  readonly out?: string;
  /** The profile is there: before the first fit it is not. */
  readonly hasProfile: boolean;
}

/** One search a run: what reads a profile asks again. */
const searches = new WeakMap<RunState, Promise<FoundProject | undefined>>();

/**
 * The project file of the folder, else of the one above, else the user's own.
 *
 * @throws {InputError} when there is one and it can't be read
 */
export function findProject(io: Io): Promise<FoundProject | undefined> {
  return kept(searches, io.run, () => searchProject(io));
}

async function searchProject(io: Io): Promise<FoundProject | undefined> {
  const places: [path: string, isOwn: boolean][] = [
    [PROJECT_FILE, false],
    [join('..', PROJECT_FILE), false],
    ...(io.configFolder === undefined ? [] : [[join(io.configFolder, PROJECT_FILE), true] as [string, boolean]]),
  ];
  for (const [path, isOwn] of places) {
    const file = isOwn || io.cwd === process.cwd() ? path : join(io.cwd, path);
    if (!(await io.exists(file))) continue;
    const project = await parseProject(decodeText(await io.readFile(file)), file);
    refuseFilm(project.film?.kind, { file, key: 'film.kind' });
    const seen = (named: string | undefined): string | undefined => named && join(dirname(file), named);
    const [profile, out] = [seen(project.profile), isOwn ? project.out : seen(project.out)];
    return { project, file, profile, out, hasProfile: profile !== undefined && (await io.exists(profile)) };
  }
  return undefined;
}

/** What the project file answers of each command's options. */
function answersFor(name: string, found: FoundProject): Readonly<Record<string, unknown>> {
  const { project, profile, out } = found;
  const { bed, film, machine, formats, pitchMm, report } = project;
  const thicknessMm = film?.thicknessMm;
  const gauge = project.gauges?.length === 1 ? project.gauges[0].resolutionMm : undefined;
  switch (name) {
    case 'coupon': {
      const format = formats?.filter((one) => COUPON_FORMATS.includes(one));
      const images = format?.length ? { format } : {};
      const { powersPercent: powerSteps, speedsMmS: speeds } = project;
      return { widthMm: bed?.widthMm, heightMm: bed?.heightMm, pitchMm, out, ...images, powerSteps, speeds };
    }
    case 'fit':
      return { machine, film: film?.kind, thicknessMm, out: profile, resolutionMm: gauge, report };
    case 'window':
      return { film: film?.kind, thicknessMm };
    // The profile knows the film it was made on better, once there is one.
    case 'check':
      return found.hasProfile ? { profile } : { thicknessMm };
    case 'treat':
      return found.hasProfile ? { profile, out } : { thicknessMm, out };
    case 'correct':
    case 'layout':
    case 'predict':
      return { profile, out, format: formats, report };
    case 'enter':
    case 'number':
      return { out };
    default:
      return {};
  }
}

/** Names of the options of a command that the project file would answer, were it typed next; one that can't be read, none. */
export async function answeredFor(name: string, io: Io): Promise<ReadonlySet<string>> {
  const found = await findProject(io).catch(() => undefined);
  const answers = Object.entries(found ? answersFor(name, found) : {});
  return new Set(answers.flatMap(([key, value]) => (value === undefined ? [] : [key])));
}

/**
 * Lets the project file answer what the command line leaves open: options win over it, it wins over defaults. The one
 * place where they meet.
 *
 * @returns keys of the options that the file answers
 */
export function answerFromProject(command: Command, found: FoundProject, io: Io): ReadonlySet<string> {
  const known = new Map(command.options.map((option) => [option.attributeName(), option]));
  const answers = Object.entries(answersFor(command.name(), found)).filter(
    ([key, value]) => value !== undefined && known.has(key),
  );
  // "default" and not a source of its own: an answer of the file conflicts with no option.
  for (const [key, value] of answers) command.setOptionValueWithSource(key, value, 'default');
  command.hook('preAction', () => {
    const used: string[] = [];
    const isTyped = (key: string): boolean => command.getOptionValueSource(key) === 'cli';
    for (const [key] of answers) {
      if (isTyped(key)) continue;
      if (isIdle(command, key) || rivalsOf(command, key).some(isTyped)) command.setOptionValue(key, undefined);
      else used.push(key);
    }
    io.run.answered = new Set(used);
    if (used.length === 0) return;
    const words = answers.filter(([key]) => used.includes(key)).map(([key, value]) => `${flagOf(key)} ${shown(value)}`);
    io.say(`settings from ${found.file}: ${words.join(', ')}\n`);
  });
  return new Set(answers.map(([key]) => key));
}

/** Only of a grid it matters what is tried; a pattern of the user's own may hold one. */
const isIdle = (command: Command, key: string): boolean =>
  ['powerSteps', 'speeds'].includes(key) &&
  command.args.length > 0 &&
  command.args.every((name) => name !== 'power-speed-grid' && BUILT_IN_PATTERNS.some((one) => one === name));

/** Options that say the same thing in another way. */
function rivalsOf(command: Command, key: string): string[] {
  const conflicts = (option: unknown): readonly string[] =>
    (option as { conflictsWith?: readonly string[] }).conflictsWith ?? [];
  return command.options.flatMap((option) => {
    const name = option.attributeName();
    if (name === key) return [...conflicts(option)];
    return conflicts(option).includes(key) ? [name] : [];
  });
}

const flagOf = (key: string): string =>
  key.replace(/Mm$/, '').replace(/[A-Z]/g, (letter) => ` ${letter.toLowerCase()}`);

function shown(value: unknown): string {
  if (Array.isArray(value)) return value.join(',');
  if (typeof value === 'object' && value !== null) {
    const { x, y } = value as { x: number; y: number };
    return x === y ? `${x}` : `${x}x${y}`;
  }
  return typeof value === 'string' ? shellQuoted(value) : String(value);
}

/** A path as written into a project file: relative to its folder, with slashes. */
export function intoProject(folder: string, path: string): string {
  const short = relative(resolve(folder), resolve(path)).replaceAll('\\', '/');
  return short === '' ? '.' : short;
}

/** Reads a profile, of a film that may be lasered. */
export async function readProfile(path: string, io: Io): Promise<{ profile: Profile; bytes: Uint8Array }> {
  const bytes = await io.readFile(path);
  const profile = await parseProfile(new TextDecoder().decode(bytes), path);
  refuseFilm(profile.film?.kind, { file: path, key: 'film.kind' });
  return { profile, bytes };
}

/** The same for a command to work with: where it is the profile of the project file, the two are held against each other. */
export async function loadProfile(path: string, io: Io): ReturnType<typeof readProfile> {
  const found = await findProject(io).catch(() => undefined);
  const isProjects = found?.profile === path;
  if (isProjects && !found.hasProfile)
    throw new InputError({
      code: 'PROFILE_NOT_MADE',
      place: { file: path },
      message: 'this profile, which apertrue.json names, is not there yet.',
      hint: 'Cut and read the coupons first; apertrue fit then writes it.',
    });
  const read = await readProfile(path, io);
  const warnings = [
    ...(isProjects ? projectDisagrees(found.project, read.profile) : []),
    ...sinceChanged(read.profile),
  ];
  sayWarnings(warnings, io);
  if (warnings.length > 0) io.run.isDoubted = true;
  return read;
}

/** A profile whose machine was seen to have changed holds for what was cut before; one in doubt, perhaps. */
export function sinceChanged({ sessions }: Profile): Warning[] {
  const days = refusedDays(sessions);
  const doubts = openDoubts(sessions);
  return present(
    days.length > 0 && {
      code: 'MACHINE_CHANGED',
      message: `readings of ${days.join(', ')} were refused because the machine had changed, and nothing has settled that since: this profile holds for what was cut before.`,
      hint: 'Cut the coupons and fit anew; or settle it: apertrue fit … --drop DAY where that day was wrong, --keep-all where it was right.',
    },
    doubts && {
      code: 'MACHINE_DOUBTFUL',
      message: `${doubtIn(doubts)}, and nothing has settled that since: if the machine has changed, what is cut by this profile is off by as much.`,
      hint: `Before you cut, ${settleDoubt(doubts.days)}, and add that: apertrue fit … --add-to …; where that day was read wrongly, --drop DAY as well.`,
    },
  );
}

/** Lengths that differ by less than this share are the same, rounded. */
const SAME_SHARE = 0.02;

const differ = (a = 0, b = 0): boolean => Math.abs(a - b) > SAME_SHARE * Math.max(a, b);
const plain = (words?: string): string | undefined => words?.trim().toLowerCase();

/** What a project file says of machine and film that is not what its profile was made with: one of them is out of date. */
export function projectDisagrees({ machine, film, pitchMm }: Project, profile: Profile): Warning[] {
  const [mine, its] = [film?.thicknessMm, profile.film?.thicknessMm];
  const pairs: readonly (readonly [what: string, said: string | undefined, known: string | undefined, isOther: boolean])[] = [
    ['machine', machine, profile.machine, plain(machine) !== plain(profile.machine)],
    ['film', film?.kind, profile.film?.kind, plain(film?.kind) !== plain(profile.film?.kind)],
    ['thickness', mine ? `${mine} mm` : undefined, its ? `${its} mm` : undefined, differ(mine, its)],
    [
      'pitch',
      pitchMm && `${pitchMm.x} x ${pitchMm.y} mm`,
      profile.pitchMm && `${profile.pitchMm.x} x ${profile.pitchMm.y} mm`,
      (['x', 'y'] as const).some((axis) => differ(pitchMm?.[axis], profile.pitchMm?.[axis])),
    ],
  ] as const; // biome-ignore format: one line a fact
  return pairs
    .filter(([, said, known, isOther]) => said && known && isOther)
    .map(([what, said, known]) => ({
      code: 'PROJECT_DISAGREES',
      message: `apertrue.json says ${what} ${said}, and its profile was made with ${what} ${known}, which is what counts.`,
      hint: 'Fit a profile for what you use now, or mend apertrue.json.',
    }));
}
