import { dirname, join } from 'node:path';
import type { FeaturesFile } from '../../coupon/features.js';
import { InputError, type Problem, refuseAll } from '../../errors.js';
import { copyWarnings } from '../../fit/calibration/observations.js';
import { fitWindow, isCramped, isUncertain } from '../../fit/window/fit-window.js';
import { joinGrids } from '../../fit/window/gather-cells.js';
import { type FilmWords, gridAround } from '../../fit/window/refusal.js';
import type { WindowResult, WindowSetting } from '../../fit/window/types.js';
import { LEAST_SDS, marginWords, narrowestTold, testedRange } from '../../fit/window/widest-setting.js';
import { present } from '../../kept.js';
import { refuseFilm } from '../../machine/film-hazards.js';
import { profileText } from '../../machine/profile-file.js';
import type { Profile, ReadingSession } from '../../machine/types.js';
import { fixedIn } from '../../project/project.js';
import { didYouMean } from '../../schema/nearest.js';
import { count, threeDigits, visible } from '../../text.js';
import { EXIT, type ExitCode } from '../exit-codes.js';
import { fileExists } from '../file-problem.js';
import { readingsNamed, readSessions, withForm } from '../fit/input.js';
import type { Io } from '../io.js';
import { bedOptions, freeFolder } from '../next-step.js';
import type { WindowOptionValues } from '../options/calibration.js';
import { findProject, loadProfile } from '../project-file.js';
import { chartFiles, writeCharts } from '../results.js';
import { alignedLines, printJson, sayCaution, sayWarnings, sayWrote, shellQuoted } from '../tell.js';

/** A profile whose kerf was read this far from the recommended setting no longer tells the kerf there. */
const SAME_SETTING_RATIO = 1.05;

/** More than these would hide the result. */
const MOST_CONTRADICTIONS = 6;
/** Warnings that a person should look into before a stencil is cut. */
const FINDINGS = ['NARROW_WINDOW', 'UNCERTAIN_WINDOW'];

export async function runWindow(names: readonly string[], options: WindowOptionValues, io: Io): Promise<ExitCode> {
  const patterns = await readingsNamed(names, io);
  // Rows that are not filled in are told of where these are cells at all.
  const notes: string[] = [];
  const { sessions, form } = await readSessions(patterns, options, { ...io, say: (text) => void notes.push(text) });
  refuseNoGrid(sessions);
  for (const note of notes) io.say(note);
  const values = withForm(options, { film: form.film, thicknessMm: form.thicknessMm, passes: form.passes }, io);
  const hazard = refuseFilm(values.film, { key: '--film' });
  const profile = values.profile === undefined ? undefined : (await loadProfile(values.profile, io)).profile;
  await refuseResults(sessions[0].coupon, values, io);
  const { readings, features } = joinGrids(sessions);
  refuseUnknownCells(values.drop ?? [], features);
  const { passes, thicknessMm, drop: ignore } = values;
  const fixed = fixedIn((await findProject(io))?.project);
  const fitted = fitWindow(readings, features, { passes, thicknessMm, ignore, fixed });
  const result = { ...fitted, warnings: [...copyWarnings(sessions), ...fitted.warnings] };
  const written = await writeCharts(values, io, async () => {
    const { windowMap } = await import('../../report/plots/window-map.js');
    return new Map([[`${sessions[0].coupon}.window`, await windowMap(result, fixed)]]);
  });
  const setting = result.setting && !isUncertain(result.setting) ? result.setting : undefined;
  if (profile && values.profile !== undefined && setting) {
    const { powerPercent, speedMmS, marginPowerPercent, marginSpeedPercent, probabilityClean } = setting;
    const window = { powerPercent, speedMmS, marginPowerPercent, marginSpeedPercent, probabilityClean };
    const bytes = profileText({ ...profile, window });
    await io.writeFiles([{ path: values.profile, bytes }], { overwrite: true, ontoInput: true });
    written.push(values.profile);
  }
  if (values.json) printJson({ format: 'apertrue-window', version: 1, ...result }, io);
  else io.out(`${words(result, cutWith(values), fixed).map(visible).join('\n')}\n`);
  sayWarnings(result.warnings, io);
  for (const line of profileNotes(profile, result.setting)) io.say(`note: ${visible(line)}\n`);
  if (hazard) io.say(`caution: ${values.film}: ${hazard}.\n`);
  sayCaution(io);
  if (profile && !setting)
    io.say(`note: ${visible(values.profile ?? '')} stays as it is: there is no setting to write into it.\n`);
  sayWrote(written, io);
  io.run.next = [await nextStep(result, patterns, { fixed, bed: sessions[0].canvas, options }, io)];
  const looked = result.warnings.some(({ code }) => FINDINGS.includes(code));
  return result.refusal || result.contradictions.length > 0 || looked ? EXIT.findings : EXIT.done;
}

/** Coupons of lengths go to another command. @throws {InputError} NO_GRID */
function refuseNoGrid(sessions: readonly ReadingSession[]): void {
  const without = sessions.filter(({ features }) => !features.some(({ kind }) => kind === 'cell'));
  if (without.length < sessions.length || without.length === 0) return;
  const names = [...new Set(without.map(({ coupon }) => coupon))];
  throw new InputError({
    code: 'NO_GRID',
    place: { file: names.join(', ') },
    message: `${names.length === 1 ? 'this is no power/speed grid' : 'these are no power/speed grids'}: there is no cell to look at.`,
    hint: `Lengths go to: apertrue fit ${names.map(shellQuoted).join(' ')}. A grid comes from: apertrue coupon power-speed-grid.`,
  });
}

/** Everything that would be replaced, told together and before anything is written. */
async function refuseResults(coupon: string, { out, profile, overwrite }: WindowOptionValues, io: Io): Promise<void> {
  const charts = out === undefined ? [] : chartFiles(join(out, `${coupon}.window`));
  const problems = await io.inTheWay(charts, { overwrite });
  if (profile !== undefined && !overwrite) problems.push(profileExists(profile));
  refuseAll(problems);
}

const profileExists = (file: string): Problem => ({
  ...fileExists(file),
  message: 'the window would be written into this profile.',
  hint: 'Give --overwrite to allow that.',
});

/** A mistyped cell would stay in, and nobody would know. */
function refuseUnknownCells(drop: readonly string[], features: readonly { readonly id: string }[]): void {
  const ids = features.map(({ id }) => id);
  refuseAll(
    drop
      .filter((id) => !ids.includes(id))
      .map((id) => ({
        code: 'UNKNOWN_DROP',
        place: { key: '--drop' },
        message: `there is no cell "${id}" in these grids.`,
        hint: didYouMean(id, ids, 'The first column of the readings file names the cells.'),
      })),
  );
}

/** What the grid was cut on and how, as the options say. */
function cutWith({ film, thicknessMm, passes }: WindowOptionValues): string {
  const parts = present(
    film,
    thicknessMm !== undefined && `${thicknessMm} mm thick`,
    passes !== undefined && count(passes, 'pass', 'passes'),
  );
  return parts.length > 0 ? ` (${parts.join(', ')})` : '';
}

function words(result: WindowResult, cut: string, fixed: FilmWords['fixed']): string[] {
  const lines = [counts(result, cut), ''];
  if (result.setting) lines.push(...settingWords(result.setting, result, fixed));
  if (result.refusal) {
    lines.push(`No setting to recommend: ${result.refusal.message}`);
    for (const remedy of result.refusal.remedies) lines.push(`  - ${remedy}`);
    const grid = result.refusal.nextGrid;
    if (grid) {
      lines.push(`Next grid: powers ${grid.powersPercent.join(', ')} %; speeds ${grid.speedsMmS.join(', ')} mm/s.`);
    }
  }
  const named = result.contradictions.slice(0, MOST_CONTRADICTIONS);
  for (const contradiction of named) lines.push('', `Contradiction: ${contradiction.say}`);
  const more = result.contradictions.length - named.length;
  if (more > 0)
    lines.push('', `${more} more ${more === 1 ? 'cell contradicts its' : 'cells contradict their'} neighbours; --json lists ${more === 1 ? 'it' : 'them'}.`); // biome-ignore format: one line
  const without = result.settingWithoutContradictions;
  if (without) {
    lines.push(
      `Without ${result.contradictions.length === 1 ? 'that cell' : 'those cells'} the setting would be ${threeDigits(without.powerPercent)} % at ${threeDigits(without.speedMmS)} mm/s (margins ${threeDigits(without.marginPowerPercent)} % of power, ${threeDigits(without.marginSpeedPercent)} % of speed). Nothing was left out; --drop does it.`,
    );
  }
  return lines;
}

function counts(result: WindowResult, cut: string): string {
  const outcomes = result.cells.flatMap((cell) => cell.outcomes);
  const parts = ['uncut', 'partial', 'through', 'marked'].map(
    (outcome) => `${outcomes.filter((other) => other === outcome).length} ${outcome}`,
  );
  const all = outcomes.length > result.cells.length ? `, ${outcomes.length} readings` : '';
  return `${count(result.cells.length, 'cell')} read${cut}${all}: ${parts.join(', ')}.`;
}

/** How many of the window's two edges the grid shows. */
const edgesSeen = ({ boundaries }: WindowResult): number =>
  boundaries ? [boundaries.through, boundaries.marked].filter(({ seen }) => seen).length : 0;

function headWords(setting: WindowSetting, edges: number, cramped: boolean): string {
  const at = `${threeDigits(setting.powerPercent)} % at ${threeDigits(setting.speedMmS)} mm/s`;
  if (isUncertain(setting)) return `The best of these is ${at}, but it is too uncertain to cut with.`;
  const why = [
    'the middle of what was tried, all of it clean',
    'the widest margin between the one edge that was found and the end of the grid',
    'the widest margin on both sides',
  ];
  return `${cramped ? 'So far the best is' : 'Cut with'} ${at}: ${why[edges]}.`;
}

/** A doubt smaller than this is that of where the grid ends. */
const LEAST_TOLD_PERCENT = 0.1;

function chanceWords(setting: WindowSetting, edges: number, fixed: FilmWords['fixed']): string {
  const { stdUncertaintyMarginPercent: u, narrowestMarginPercent, probabilityClean } = setting;
  const chance = probabilityClean > 0.995 ? 'more than 99' : (100 * probabilityClean).toFixed(0);
  const found = [' (no edge was found)', ' (only one edge was found)', ''][edges];
  const margin = narrowestTold(setting, fixed);
  const least = narrowestMarginPercent - LEAST_SDS * u;
  const known =
    u < LEAST_TOLD_PERCENT
      ? 'to where the grid ends'
      : `whichever edge is nearer, and ${least > 0 ? `with 95 % confidence at least ${marginWords(least)} %` : 'may be none'}`;
  return `Clean with a probability of ${chance} %, by these cells${found} and by how lasers usually waver; the narrowest margin is ${marginWords(margin)} %, ${known}.`;
}

/** What to cut or to look at next: the coupons with a setting that holds, else what finds one. */
async function nextStep(
  result: WindowResult,
  files: readonly string[],
  { fixed, bed, options }: Pick<FilmWords, 'fixed'> & { bed?: FeaturesFile['canvas']; options: WindowOptionValues },
  io: Io,
): Promise<string> {
  const { setting, refusal } = result;
  const folder = dirname(files[0]);
  if (setting && !isUncertain(setting) && !isCramped(setting, result))
    return `cut two coupons with that setting: apertrue coupon scale-ruler aperture-ladder${bedOptions(bed, options.out ?? folder, io)}`;
  const grid = setting ? gridAround(setting, { fixed }) : refusal?.nextGrid;
  if (!grid)
    return `look at the cells again, correct the readings, then: apertrue window ${files.map(shellQuoted).join(' ')}`;
  const out = await freeFolder(folder, 'grid', io, 2);
  const where = bedOptions(bed, out, io) || ` --out ${shellQuoted(out)}`;
  return `cut the next grid: apertrue coupon power-speed-grid --power-steps ${grid.powersPercent.join(',')} --speeds ${grid.speedsMmS.join(',')}${where}`;
}

type ShownAxis = ReturnType<typeof shownAxes>[number];

/** What can be set; more than `most` can't be. */
function shownAxes({ powerPercent, speedMmS, power, speed }: WindowSetting, fixed: FilmWords['fixed'] = []) {
  const axes = [
    { axis: 'power', name: 'power, %', value: powerPercent, range: power, most: 100 },
    { axis: 'speed', name: 'speed, mm/s', value: speedMmS, range: speed, most: Infinity },
  ] as const;
  return axes.filter(({ axis }) => !fixed.includes(axis));
}

/** Values of the grid are told from each other by more than this share. */
const SAME_VALUE = 1e-6;

function settingWords(setting: WindowSetting, result: WindowResult, fixed: FilmWords['fixed'] = []): string[] {
  const edges = edgesSeen(result);
  const tried = testedRange(result.cells);
  // What was not varied goes as far as the other does, the other way round.
  const endsAt = (axis: 'power' | 'speed', end: 0 | 1): boolean => {
    const varied = tried[axis][0] < tried[axis][1];
    const [by, at] = varied ? ([axis, end] as const) : ([axis === 'power' ? 'speed' : 'power', 1 - end] as const);
    return Math.abs(setting[by][at === 0 ? 'from' : 'to'] / tried[by][at] - 1) < SAME_VALUE;
  };
  const rowOf = ({ axis, name, value, range, most }: ShownAxis): string[] => {
    // An edge that lies beyond the grid was not found: the window may well go on there.
    const [from, to] = ([0, 1] as const).map((i) => {
      const isEnd = endsAt(axis, i);
      const end = i === 0 ? 'from' : 'to';
      return `${range[end] > most ? `above ${most}` : threeDigits(range[end])}${isEnd ? '*' : ' '}`;
    });
    return [
      name,
      `${threeDigits(value)}`,
      from,
      to,
      `${marginWords(range.downPercent)} %`,
      `${marginWords(range.upPercent)} %`,
    ];
  };
  const rows = [
    ['', 'set', 'clean from ', 'to ', 'may fall by', 'may rise by'],
    ...shownAxes(setting, fixed).map(rowOf),
  ];
  return [
    headWords(setting, edges, isCramped(setting, result)),
    '',
    ...alignedLines(rows, (j) => j > 0),
    ...(rows.flat().some((cell) => cell.endsWith('*'))
      ? ['* where the grid ends, not an edge: beyond it nothing was tried']
      : []),
    '',
    `${chanceWords(setting, edges, fixed)} Nearest cell cut: ${setting.nearestCell}.`,
  ];
}

function profileNotes(profile: Profile | undefined, setting: WindowSetting | undefined): string[] {
  if (!profile || !setting) return [];
  const { powerPercent, speedMmS } = profile.settings ?? {};
  const far = (a: number | undefined, b: number): boolean =>
    a !== undefined && Math.max(a / b, b / a) > SAME_SETTING_RATIO;
  if (!far(powerPercent, setting.powerPercent) && !far(speedMmS, setting.speedMmS)) return [];
  return [
    `this profile was made at ${powerPercent ?? '?'} % and ${speedMmS ?? '?'} mm/s. The kerf changes with the setting: cut and read the ladder at the new one before correcting stencils for it.`,
  ];
}
