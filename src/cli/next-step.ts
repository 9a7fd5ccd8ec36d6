import { basename, dirname, join } from 'node:path';
import type { FeaturesFile } from '../coupon/features.js';
import { undefinedIfRefused, unlessRefused } from '../errors.js';
import { present } from '../kept.js';
import { PARAMETER_NAMES, type ParameterName, type ProfileFit } from '../machine/types.js';
import { allRuns } from '../text.js';
import type { Io, RunState } from './io.js';
import { flagOf } from './options/option.js';
import { ARTWORK, MIRROR, PITCH, SIDE, SWEEP } from './options/shared.js';
import { CUT } from './options/stencils.js';
import { answeredFor, findProject } from './project-file.js';
import { shellQuoted } from './tell.js';

/** How artwork is read and laid in dots: whoever said it once needs it again for the same file. */
const ABOUT_ARTWORK = [
  ...Object.keys({ ...ARTWORK, ...SIDE, ...MIRROR, ...PITCH }),
  'format',
  ...Object.keys(SWEEP),
].map(flagOf);

/** What else decides which openings are cut, and in which dots. */
const ABOUT_CUT = Object.keys(CUT)
  .map(flagOf)
  .filter((flag) => !ABOUT_ARTWORK.includes(flag));

/** Options as they were typed: by their flag, with their words, as often. */
const asTyped = (flags: readonly string[], typed: Typed): string =>
  flags
    .flatMap((flag) =>
      (typed.get(flag) ?? []).map((words) => ` ${flag}${words === null ? '' : ` ${shellQuoted(words)}`}`),
    )
    .join('');

type Values = Readonly<Record<string, unknown>>;
/** What was typed for each option, by its long flag, each time that it was; null for one that takes no value. */
export type Typed = ReadonlyMap<string, readonly (string | null)[]>;

/** The bed of a coupon that was read, for those that come next, as options; nothing where the project file answers them. */
export function bedOptions(canvas: FeaturesFile['canvas'] | undefined, out: string, io: Io): string {
  if (!canvas || io.run.answered.size > 0) return '';
  const { widthMm, heightMm, pitchXMm: x, pitchYMm: y } = canvas;
  return ` --width-mm ${widthMm} --height-mm ${heightMm} --pitch-mm ${x === y ? x : `${x}x${y}`} --out ${shellQuoted(out)}`;
}

/** A folder for coupons that are cut once more, beside those before: readings are never replaced. @param first - the number of the first such folder */
export async function freeFolder(folder: string, name: string, io: Io, first = 1): Promise<string> {
  const within = new RegExp(`^${name}-\\d+$`).test(basename(folder)) ? dirname(folder) : folder;
  for (let n = first; ; n += 1) {
    const free = join(within, `${name}-${n}`);
    if (!(await io.exists(free))) return free;
  }
}

/** The coupon without which some of a machine's numbers are only assumed. */
export function couponLacking(fit: ProfileFit): 'scale-ruler' | 'aperture-ladder' | undefined {
  const isAssumed = (name: ParameterName): boolean => fit[name].assumed === true;
  if (isAssumed('kerfXMm') || isAssumed('kerfYMm')) return 'aperture-ladder';
  return PARAMETER_NAMES.some(isAssumed) ? 'scale-ruler' : undefined;
}

/**
 * What most people do after a command, ready to be pasted; undefined for commands that say it themselves.
 *
 * @param known - the run of this command, and what the project file would answer of `correct` and `check`
 * @param typed - the options as they were typed
 * @param doubted - something is not as asked, or nobody can vouch for it
 */
export function nextStep(
  name: string,
  files: readonly string[],
  values: Values,
  known: { readonly run: RunState; readonly correct: ReadonlySet<string>; readonly check: ReadonlySet<string> },
  typed: Typed = new Map(),
  doubted = false,
): string | undefined {
  const { run, correct, check } = known;
  const option = (flag: string, key: string): string =>
    typeof values[key] === 'string' && !run.answered.has(key) ? ` ${flag} ${shellQuoted(values[key])}` : '';
  const dropped = Array.isArray(values.drop) ? ` --drop ${allRuns(values.drop as number[])}` : '';
  const profile = option('--profile', 'profile') || (correct.has('profile') ? '' : ' --profile FILE');
  const stencils = correct.has('out') ? '' : ' --out stencils';
  const film = check.size > 0 ? '' : ' --thickness-mm 0.1';
  // What came through a pipe has no name to go on with.
  const isNamed = files[0] !== undefined && files[0] !== '-';
  const artwork = isNamed ? `${shellQuoted(files[0])}${asTyped(ABOUT_ARTWORK, typed)}` : 'board.gbr';
  const cut = isNamed ? `${artwork}${asTyped(ABOUT_CUT, typed)}` : artwork;
  if (run.beyondBed !== undefined) return withinBed(name, files, run.beyondBed, typed);
  switch (name) {
    case 'fit':
      // Of a machine that has changed, a profile is no reason to cut.
      if (values.out === undefined) return undefined;
      return `every stencil from now on, with your paste layer for board.gbr: apertrue correct board.gbr${run.answered.has('out') ? '' : ` --profile ${shellQuoted(String(values.out))}`}${stencils}`;
    case 'number':
    case 'check':
      if (run.isUnsized)
        return `measure how far the centres of two openings lie apart on the board, and give it: apertrue check ${artwork} --known-distance 1,2,25.4${film}`;
      if (name === 'number') return `apertrue check ${artwork}${film}`;
      return `apertrue correct ${artwork}${dropped}${profile}${stencils}`;
    case 'treat':
      if (values.dryRun === true || typeof values.out !== 'string') return undefined;
      return `apertrue correct ${shellQuoted(run.treated.length === 1 ? run.treated[0] : join(values.out, '*.treated.svg'))}${profile}${stencils}`;
    case 'correct': {
      const next = `${values.sweep === 'y' ? 'turn it by 90 degrees clockwise in your program and cut it' : 'cut it as it is'}, same program and settings as the coupons`;
      if (!isNamed) return doubted ? `where what is listed above doesn't matter, ${next}` : next;
      const look = `apertrue predict ${cut}${option('--profile', 'profile')}${option('--out', 'out')}`;
      return doubted
        ? `to see whether what is listed above matters, before you ${next}: ${look}`
        : `${next}; or look first: ${look}`;
    }
    case 'predict': {
      const correct = `apertrue correct ${cut}${option('--profile', 'profile')}${option('--out', 'out')}`;
      if (!run.isMade) return correct;
      return `a stencil is there already: cut it only if it was made from this artwork and profile, as they are now, with these options; to make it anew: ${correct} --overwrite`;
    }
    case 'layout':
      return `print the dry fit, lay the board on it, then${doubted ? ', where what is listed above doesn’t matter,' : ''} cut with the same program and settings as the coupons`;
    default:
      return undefined;
  }
}

/** The same command once more, its stencil laid so that the bed holds it; its results are there already. */
function withinBed(name: string, files: readonly string[], remedy: string, typed: Typed): string {
  const turn = /--rotate (\d+)/.exec(remedy)?.[1];
  if (turn === undefined) return 'don’t cut it: the bed can’t hold it; see the warning, and once that is mended, the same command with --overwrite'; // biome-ignore format: one line
  // Of a batch only those are to be turned that the bed can't hold, and what is piped in can't be read twice.
  if (files.includes('-') || (name !== 'layout' && files.length > 1))
    return `don’t cut what the bed can’t hold: the same command for that alone, with --rotate ${turn} --overwrite`;
  const again = asTyped([...typed.keys()].filter((flag) => !['--rotate', '--overwrite'].includes(flag)), typed); // biome-ignore format: one line
  return `turned, the bed can hold it: apertrue ${name} ${quotedAll(files)}${again} --rotate ${turn} --overwrite`;
}

/** After a scan: cells of grids go to `window`, lengths and places to `fit`. */
export async function afterScan(
  written: readonly string[],
  read: readonly { readonly features: FeaturesFile }[],
  io: Io,
): Promise<string> {
  const grids = read.filter(({ features }) => features.features.some(({ kind }) => kind === 'cell'));
  const taken = written.filter((path) => /\.(readings|places)\.csv$/.test(path));
  const isCell = (path: string): boolean =>
    grids.some(({ features }) => basename(path) === `${features.coupon}.readings.csv`);
  const own = taken.filter((path) => !isCell(path));
  const pieces = own.filter((path) => basename(path) === `${WITNESS}.readings.csv`);
  const coupons = own.filter((path) => !pieces.includes(path));
  const named = (await answeredFor('fit', io)).has('out') ? '' : ' --out laser.profile.json';
  const commands = present(
    coupons.length > 0 && `fit ${quotedAll([...(await readByHand(read, io)), ...coupons])}${named}`,
    pieces.length > 0 && (await addedToProfile(pieces, io)),
    own.length === 0 && `window ${quotedAll(taken.filter(isCell))}`,
  );
  const page = written.find((path) => path.endsWith('scan.html'));
  return `look at ${page ?? 'the pictures'}, then: apertrue ${commands.join(', and then: apertrue ')}`;
}

/** The pattern of pieces in the margins of stencils: each has a day of its own. */
const WITNESS = 'witness';

/** How readings of a later day are held against the profile that the project file names, and added to it. */
async function addedToProfile(readings: readonly string[], io: Io): Promise<string> {
  const profile = shellQuoted((await findProject(io))?.profile ?? 'laser.profile.json');
  return `fit ${quotedAll(readings)} --add-to ${profile} --out ${profile} --overwrite`;
}

/** Readings of other coupons, typed in before, that belong to the same fit: those in the project's folder for results. */
async function readByHand(read: readonly { readonly features: FeaturesFile }[], io: Io): Promise<string[]> {
  const folder = (await findProject(io))?.out;
  if (folder === undefined) return [];
  const [{ decodeText }, { parseReadings }] = await Promise.all([
    import('../readings/csv-rows.js'),
    import('../readings/parse-readings.js'),
  ]);
  // What was scanned is not read twice.
  const others = [WITNESS, ...read.map(({ features }) => features.coupon)].map((name) => `${name}.readings.csv`);
  const files: string[] = [];
  for (const path of await io.expand(join(folder, '*.readings.csv'))) {
    if (others.some((name) => basename(path).endsWith(name))) continue;
    const text = await io.lookAt(path).then(decodeText, undefinedIfRefused);
    const read = text === undefined ? undefined : unlessRefused(() => parseReadings(text, path));
    if (read?.readings.some(({ readingMm }) => readingMm !== undefined)) files.push(path);
  }
  return files;
}

const quotedAll = (paths: readonly string[]): string => paths.map(shellQuoted).join(' ');

/** After an inspection: what was cut is a coupon, too, of the profile that the project file names. */
export async function afterInspection(written: readonly string[], io: Io): Promise<string> {
  const [page, readings] = ['.html', '.readings.csv'].map((ending) => written.find((path) => path.endsWith(ending)));
  const follow = readings && `; to follow the machine by it: apertrue ${await addedToProfile([readings], io)}`;
  return `look at ${page ?? ''}${follow ?? ''}`;
}
