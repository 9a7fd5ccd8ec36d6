import { basename, dirname } from 'node:path';
import { demand, InputError, unlessRefused } from '../../errors.js';
import { fitSessions } from '../../fit/calibration/fit-sessions.js';
import { otherCanvas } from '../../fit/calibration/gross-errors.js';
import type { CalibrationResult } from '../../fit/calibration/types.js';
import { betweenDays } from '../../fit/drift/between-days.js';
import { openDoubts, withoutDoubts } from '../../fit/drift/session-days.js';
import { uncheckedSentences } from '../../fit/plan/plan-words.js';
import { present } from '../../kept.js';
import { refuseFilm } from '../../machine/film-hazards.js';
import { straightened, straightProfile } from '../../machine/place-field.js';
import { makeProfile, parseProfile, profileText } from '../../machine/profile-file.js';
import type { PlaceField, Profile, ReadingSession } from '../../machine/types.js';
import { visible } from '../../text.js';
import { EXIT, type ExitCode } from '../exit-codes.js';
import type { Io } from '../io.js';
import { bedOptions, couponLacking, freeFolder } from '../next-step.js';
import type { FitOptionValues } from '../options/calibration.js';
import { refuseUnusedOptions } from '../options/option.js';
import { refuseResults, writeResults } from '../results.js';
import { printJson, sayWrote, shellQuoted } from '../tell.js';
import {
  AFTER_CHANGE,
  dropsOf,
  heldAgainst,
  joinSessions,
  judgedSessions,
  markDropped,
  refusedProfile,
  settleFirst,
  tellChange,
  tellLeftOut,
  tellSameAgain,
  withoutRepeats,
} from './history.js';
import { readingsNamed, readPlaces, readSessions, refuseOtherCut, withForm } from './input.js';
import { type FitToReport, fitReport, fitReportPaths } from './report.js';
import { nextReadings, tellFit } from './tell.js';

/**
 * Reads, fits, tells, writes.
 *
 * Nothing is dropped unless told. So when readings that stand out decide the answer, the plain answer is wrong and the
 * robust one was not asked for: no profile is written until the user says which. When they hardly move the answer, the
 * profile is written with them, and exit code 3 says that there is something to look at.
 */
export async function runFit(names: readonly string[], options: FitOptionValues, io: Io): Promise<ExitCode> {
  refuseIdleReport(options, io);
  const patterns = await readingsNamed(names, io);
  const { addTo } = options;
  // All that an older profile holds goes into the new one, which may therefore take its place (with --overwrite).
  const added =
    addTo === undefined ? undefined : await parseProfile(new TextDecoder().decode(await io.lookAt(addTo)), addTo);
  const { readings, films } = await readPlaces(patterns, io);
  demand(
    films.length === 0 || readings.length > 0 || added !== undefined,
    'FIELD_ALONE',
    'places of marks tell how the bed is bent, but neither its scale nor the kerf.',
    'Give the readings of the coupons too, or a profile to add to (--add-to).',
  );
  const bends = films.length > 0 ? (await import('../../fit/field/fit-field.js')).fitField(films) : undefined;
  const field = bends ? bends.field : added?.field;
  const { sessions: read, form } =
    films.length > 0 && readings.length === 0 ? { sessions: [], form: {} } : await readSessions(readings, options, io);
  if (films.length === 0 && read.every((session) => session.readings.length === 0)) throw onlyCells(read);
  if (added && addTo !== undefined) refuseOtherCut(addTo, added, readings.join(', '), { sessions: read, form });
  const values = withForm(options, form, io);
  const caution = refuseFilm(values.film, { key: '--film' });
  const later = added ? [] : piecesOfOtherDays(read);
  // What the coupons alone say, where something is to be held against them.
  const own = later.length === 0 ? [] : read.filter((session) => !later.includes(session));
  const fitted = () =>
    fitSessions(straightened(own, field), { resolutionMm: values.resolutionMm, robust: values.robust });
  const coupons = own.some(hasLengths)
    ? unlessRefused(() => profileOf(values, undefined, own, fitted(), field))
    : undefined;
  const known = added ?? coupons;
  const fresh = coupons ? later : read;
  const before = coupons ? joinSessions([], coupons.sessions) : added ? withoutRepeats(added, fresh).sessions : [];
  const all = joinSessions(before, fresh);
  tellSameAgain(all.slice(0, -fresh.length), fresh, io);
  const drops = dropsOf(values, all);
  const sessions = settled(markDropped(all, { days: drops.days, features: [] }), fresh, values);
  const older = known && { ...known, sessions: sessions.slice(0, sessions.length - fresh.length) };
  if (!sessions.some(hasLengths)) throw onlyCells(fresh);
  if (values.out !== undefined) {
    // Whatever would be replaced is told before anything is fitted.
    const names = [values.out, ...(values.report ? fitReportPaths(values.out) : [])];
    await refuseResults(names, { overwrite: values.overwrite }, io);
  }
  io.progress?.('fitting');
  const pooled = fitSessions(straightened(sessions, field), {
    resolutionMm: values.resolutionMm,
    drop: drops.features,
    robust: values.robust,
  });
  const marked = markDropped(sessions, drops, values.robust ? pooled.robust?.ignored : []);
  const against =
    older && fresh.some(hasLengths)
      ? await heldAgainst(straightProfile(older), straightened(fresh, older.field), pooled, values)
      : undefined;
  const judged = await judgedSessions(marked, fresh.length, against);
  const straight = straightened(judged, field);
  const days = betweenDays(pooled.fit, straight, values.resolutionMm);
  const result = { ...pooled, fit: days.fit };
  if (older && against?.changed && !values.keepAll) {
    tellChange(against, values, io);
    const before = marked.slice(0, -fresh.length);
    const ofBefore = () => fitSessions(straightened(before, older.field), { resolutionMm: values.resolutionMm });
    const fit = drops.days.length + drops.features.length > 0 ? ofBefore().fit : older.fit;
    if (values.out !== undefined) {
      const kept = refusedProfile({ ...older, fit, sessions: before }, marked.slice(-fresh.length), against);
      await io.writeFiles([{ path: values.out, bytes: profileText(kept) }], values);
    }
    const changed = {
      withheld: 'The machine has changed: these readings were not pooled with the others.',
      sentences: [...against.sentences, AFTER_CHANGE],
      bends,
      ofBefore: true,
    };
    // Readings from before and after, taken together, describe neither machine: the page shows that of before.
    const shown = values.report ? { ...ofBefore(), fit } : result;
    const written = await writeReport(shown, { profile: older, sessions, ...changed }, values, io);
    sayWrote([...written, ...(values.out === undefined ? [] : [values.out])], io);
    io.run.next = await cutAnew(older, dirname(readings[0] ?? ''), io);
    return EXIT.findings;
  }
  const profile = profileOf(values, older, judged, result, field);
  const files = coupons ? later.flatMap(({ readings: [first] }) => first.file ?? []) : readings;
  const isDoubtful = judged.slice(-fresh.length).some(({ doubtful }) => doubtful);
  const settling = settleFirst(profile, isDoubtful ? files : [], values);
  const unstated = result.gauges
    .filter(({ name, limitMm }) => limitMm === undefined && !name.endsWith(' widths'))
    .map(({ name }) => name);
  const unchecked = uncheckedSentences(marked, result.unchecked, unstated);
  const { resolutionMm, robust } = values;
  // Readings that stand out come first: what they widen, no further reading mends.
  const isOdd = result.flagged.length > 0 && !robust;
  const further = isOdd ? [] : nextReadings(result, straight, { resolutionMm, days: days.components });
  const undecided = answerUndecided(values, result);
  if (values.out !== undefined && !undecided) {
    await io.writeFiles([{ path: values.out, bytes: profileText(profile) }], values);
  }
  // Whether the machine is still the same comes first.
  const sentences = [...(against?.sentences ?? []), ...(bends?.sentences ?? []), ...days.sentences, ...further];
  const told = {
    ...{ profile, sessions: judged, sentences, unchecked, settling, bends },
    answered: isFromProject(io),
    withheld: undecided ? 'No profile was written: the readings don’t decide the answer.' : undefined,
  };
  const drawn = undecided && isFromProject(io) ? [] : await writeReport(result, told, values, io);
  // Coupons of two lasers look like those of one that is bent, or that scatters.
  const unlike = otherCanvas(fresh);
  if (unlike) io.say(`warning: ${visible(unlike)}\n`);
  if (values.json) {
    const next = [...further, ...unchecked];
    const fitted = { ...result, betweenDays: days.components, next, against, places: bends, profile };
    printJson({ format: 'apertrue-fit', version: 1, ...fitted }, io);
  } else {
    tellFit(result, values, io);
    for (const sentence of [...sentences, ...unchecked]) io.out(`${visible(sentence)}\n`);
  }
  if (older) tellLeftOut(older.sessions, io);
  if (sessions.some(hasCells)) io.say('note: the power/speed cells in these readings are for `apertrue window`.\n');
  if (caution) io.say(`caution: ${values.film}: ${caution}.\n`);
  sayWrote(drawn, io);
  const nothing = drawn.length === 0 ? 'Nothing was written' : 'No profile was written';
  if (undecided) {
    io.say(
      result.undecided
        ? `${nothing}: a reading is wrong, and there are too few to tell which. Read them again, or more features.\n`
        : `${nothing}: the readings that stand out decide the answer.\n`,
    );
    return EXIT.badInput;
  }
  if (values.out !== undefined) tellUnnamedSettings(profile, io);
  io.say(values.out === undefined ? `${nothing}; --out FILE writes the profile.\n` : `wrote ${visible(values.out)}\n`);
  const lacking = values.out === undefined ? undefined : couponLacking(profile.fit);
  const bed = () => bedOptions(sessions[0].canvas, dirname(readings[0] ?? ''), io);
  const first = present(
    ...settling,
    lacking &&
      `some of these numbers are only assumed; cut and read this too, and fit all together: apertrue coupon ${lacking}${bed()}`,
  );
  if (first.length > 0) io.run.next = first;
  const found = result.flagged.length > 0 || hasFault(result) || against?.changed || openDoubts(judged) !== undefined;
  return found ? EXIT.findings : EXIT.done;
}

/** A kerf holds at the power and speed it was cut with. */
function tellUnnamedSettings({ settings: { powerPercent, speedMmS } = {} }: Profile, io: Io): void {
  const unnamed = present(powerPercent === undefined && 'power', speedMmS === undefined && 'speed');
  if (unnamed.length > 0)
    io.say(
      `note: no ${unnamed.join(' and no ')} is named, so the profile can’t say at which setting its kerf holds. Fill in the lines at the head of the readings, or give --power-percent and --speed-mm-s.\n`,
    );
}

/** Something that a person should look at before a stencil is cut. A gauge's zero that was found and taken out is none, unless it may be the machine's. */
function hasFault({ faults, gauges, warnings }: CalibrationResult): boolean {
  return (
    faults.some(({ found }) => found) ||
    gauges.some(({ zeroDoubtful }) => zeroDoubtful) ||
    warnings.some(({ code }) => UNVOUCHED.includes(code))
  );
}

/** Numbers that nothing vouches for: a slip would not be seen. */
const UNVOUCHED: readonly string[] = ['LONE_READING', 'NOTHING_LEFT_OVER'];

const ANEW = ['scale-ruler', 'aperture-ladder'];

/** The coupons once more, if it is known for which bed: a stencil that was read has a canvas of its own. */
async function cutAnew({ sessions }: Profile, folder: string, io: Io): Promise<string[]> {
  const out = await freeFolder(folder, 'anew', io);
  const bed = bedOptions(sessions.find(({ coupon }) => ANEW.includes(coupon))?.canvas, out, io);
  if (bed === '' && io.run.answered.size === 0) return [];
  return [
    `where the readings hold, cut and read coupons anew, and fit those alone: apertrue coupon ${ANEW.join(' ')}${bed || ` --out ${shellQuoted(out)}`}`,
  ];
}

/** A report that the project file asks for belongs to a profile; one that was asked for here is written without one, too. */
const isFromProject = (io: Io): boolean => io.run.answered.has('report');

function refuseIdleReport(values: FitOptionValues, io: Io): void {
  const idle = values.report === true && values.out === undefined && !isFromProject(io);
  refuseUnusedOptions([[idle, '--report', 'it is written beside the profile, and none is written', 'Give --out too.']]);
}

async function writeReport(
  result: CalibrationResult,
  fit: Omit<FitToReport, 'out'>,
  { out, report, overwrite }: FitOptionValues,
  io: Io,
): Promise<string[]> {
  if (!report || out === undefined) return [];
  io.progress?.('drawing the report');
  return writeResults(await fitReport(result, { ...fit, out }), { overwrite }, io);
}

/** Readings that move the plain answer further than this from the robust one decide it, in standard uncertainties. */
const DECIDES = 2;

function answerUndecided(values: FitOptionValues, { flagged, undecided, robust }: CalibrationResult): boolean {
  if (undecided && !values.keepAll) return true;
  if (flagged.length === 0 || values.robust || values.keepAll || !robust) return false;
  return robust.moves.some(({ inUncertainties }) => Math.abs(inUncertainties) > DECIDES);
}

/** With --keep-all days that were refused or doubtful are taken in like the others. */
function settled(sessions: readonly ReadingSession[], fresh: readonly ReadingSession[], { keepAll }: FitOptionValues) {
  if (!keepAll || sessions.length === fresh.length) return [...sessions];
  return sessions.map(({ refused: _, ...session }) => withoutDoubts(session));
}

/** A witness, or a stencil, is that much smaller than the coupons that fill the bed. */
const MOST_OF_BED = 0.5;

/**
 * Pieces of days of their own that were read beside the coupons of a bed. They are held against these, as with --add-to: taken
 * together with them at once, a witness whose kerf had grown by 20 um went into the answer without a word.
 */
function piecesOfOtherDays(sessions: readonly ReadingSession[]): readonly ReadingSession[] {
  const areaOf = ({ canvas }: ReadingSession): number => (canvas ? canvas.widthMm * canvas.heightMm : 0);
  const bed = sessions.reduce<ReadingSession | undefined>((a, b) => (a && areaOf(a) >= areaOf(b) ? a : b), undefined);
  if (!bed) return [];
  return sessions.filter(
    (one) => one.date !== bed.date && hasLengths(one) && areaOf(one) > 0 && areaOf(one) < MOST_OF_BED * areaOf(bed),
  );
}

/** Of each reading whether it is one of a cell. */
function areCells({ features, readings }: ReadingSession): boolean[] {
  const cells = new Set(features.filter(({ kind }) => kind === 'cell').map(({ id }) => id));
  return readings.map(({ feature }) => cells.has(feature));
}
const hasCells = (session: ReadingSession): boolean => areCells(session).includes(true);
const hasLengths = (session: ReadingSession): boolean => areCells(session).includes(false);

function onlyCells(sessions: readonly ReadingSession[]): InputError {
  const cells = sessions.some(hasCells);
  return new InputError({
    code: 'NO_LENGTHS',
    place: { file: sessions[0]?.readings[0]?.file },
    message: cells ? 'there are only power/speed cells in these readings.' : 'no row is filled in.',
    hint: cells
      ? 'Use `apertrue window` for them, and read a scale ruler and an aperture ladder for a profile.'
      : 'Write what you measured into the column reading_mm.',
  });
}

function profileOf(
  values: FitOptionValues,
  older: Profile | undefined,
  sessions: readonly ReadingSession[],
  result: CalibrationResult,
  field: PlaceField | undefined,
): Profile {
  const stem = values.out === undefined ? 'unnamed' : basename(values.out).replace(/(\.profile)?\.json$/i, '');
  const defined = <T extends object>(record: T): T =>
    Object.fromEntries(Object.entries(record).filter(([, value]) => value !== undefined)) as T;
  return makeProfile({
    name: values.name ?? older?.name ?? stem,
    machine: values.machine ?? older?.machine,
    film: { ...older?.film, ...defined({ kind: values.film, thicknessMm: values.thicknessMm }) },
    settings: {
      ...older?.settings,
      ...defined({ powerPercent: values.powerPercent, speedMmS: values.speedMmS, passes: values.passes }),
    },
    fit: result.fit,
    limits: result.limits,
    window: older?.window,
    ...(field ? { field } : {}),
    sessions,
  });
}
