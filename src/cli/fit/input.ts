import { basename, dirname, join } from 'node:path';
import type { Feature, FeaturesFile } from '../../coupon/features.js';
import { parseFeatures } from '../../coupon/parse-features.js';
import { formatProblem, InputError, type Problem, refuseAll } from '../../errors.js';
import { gaugesIn, lengthsReadIn } from '../../fit/calibration/gauges.js';
import { unitOfReadings } from '../../fit/calibration/unit-of-readings.js';
import type { FilmPlaces } from '../../fit/field/straight-residuals.js';
import type { PerAxis } from '../../geometry/types.js';
import { otherDots } from '../../machine/machine-model.js';
import type { Profile, ReadingSession } from '../../machine/types.js';
import { decodeText } from '../../readings/csv-rows.js';
import { isPlaces, parsePlaces } from '../../readings/parse-places.js';
import { parseReadings } from '../../readings/parse-readings.js';
import type { ReadingsForm } from '../../readings/readings-form.js';
import type { Reading } from '../../readings/types.js';
import { visible } from '../../text.js';
import { allOf } from '../file-problem.js';
import type { Io } from '../io.js';
import { findProject } from '../project-file.js';
import { expandAll } from '../results.js';

interface SessionValues {
  readonly features?: string;
  readonly date?: string;
  readonly gaugeLimitMm?: number;
  readonly resolutionMm?: number;
}

/** Readings files by their names, or by those of their coupons: these lie in the project's folder for results. */
export async function readingsNamed(names: readonly string[], io: Io): Promise<string[]> {
  const folder = (await findProject(io))?.out ?? '.';
  const pathOf = async (name: string): Promise<string> => {
    const path = join(folder, `${name}.readings.csv`);
    const isCoupon = /^[^./\\*?]+$/.test(name) && !(await io.exists(name)) && (await io.exists(path));
    return isCoupon ? path : name;
  };
  return Promise.all(names.map(pathOf));
}

/** Reads readings files with the features files that belong to them; problems of all files are told together. */
export async function readSessions(patterns: readonly string[], values: SessionValues, io: Io) {
  const read = await allOf(await expandAll(patterns, io), (file) => readSession(file, values, io));
  const forms = read.map(({ file, session, form }): CutAs => [file, form, dotsOf(session)]);
  return { sessions: read.map(({ session }) => session), form: joinForms(forms) };
}

/** What all coupons of one fit share; the day and the gauge may be each file's own. */
const SHARED = ['film', 'thicknessMm', 'powerPercent', 'speedMmS', 'passes'] as const;

type Answer = string | number | undefined;

/** 236 inches a minute are 100 mm/s, as they are typed. */
const AS_TYPED = 0.005;

const alike = (a: Answer, b: Answer): boolean =>
  typeof a === 'number' && typeof b === 'number'
    ? Math.abs(a - b) <= AS_TYPED * Math.abs(b)
    : String(a).toLowerCase() === String(b).toLowerCase();

const short = (answer: Answer): Answer => (typeof answer === 'number' ? Number(answer.toPrecision(4)) : answer);

/** How the coupon of a file was cut: the form filled in, and its dots. */
type CutAs = readonly [file: string, form: ReadingsForm, dots?: PerAxis];

function dotsOf({ canvas }: Pick<ReadingSession, 'canvas'>): PerAxis | undefined {
  return canvas && { x: canvas.pitchXMm, y: canvas.pitchYMm };
}

/** @throws {InputError} FORMS_DIFFER */
function joinForms(forms: readonly CutAs[]): ReadingsForm {
  const problems: Problem[] = [];
  const [first] = forms.filter(([, , dots]) => dots);
  for (const [file, , dots] of forms) {
    const other = dots && otherDots(first[2], dots, first[0]);
    if (other === undefined) continue;
    problems.push({
      code: 'FORMS_DIFFER',
      place: { file },
      message: `by its features file ${other}: the two were not cut alike, perhaps by two lasers.`,
      hint: 'Fit coupons together only when one laser cut them with the same dots; look for the features file that belongs to each.',
    });
  }
  let joined: Partial<Record<(typeof SHARED)[number], string | number>> = {};
  for (const key of SHARED) {
    const said = forms.filter(([, form]) => form[key] !== undefined);
    const other = said.find(([, form]) => !alike(form[key], said[0][1][key]));
    if (said.length > 0) joined = { ...joined, [key]: said[0][1][key] };
    if (!other) continue;
    problems.push({
      code: 'FORMS_DIFFER',
      place: { file: other[0], key },
      message: `this file says ${short(other[1][key])}, and ${said[0][0]} says ${short(said[0][1][key])}.`,
      hint: 'Fit coupons together only when they were cut alike; correct the form if they were.',
    });
  }
  refuseAll(problems);
  return joined as ReadingsForm;
}

/** @throws {InputError} FORMS_DIFFER when the readings are of another film, setting or pitch than the profile that they are added to */
export function refuseOtherCut(
  path: string,
  { film, settings, pitchMm }: Profile,
  file: string,
  { sessions, form }: { readonly sessions: readonly ReadingSession[]; readonly form: ReadingsForm },
): void {
  joinForms([
    [path, { film: film?.kind, thicknessMm: film?.thicknessMm, ...settings }, pitchMm],
    [file, form, sessions[0] && dotsOf(sessions[0])],
  ]);
}

/** A gauge that the form names is that of all rows that name none. */
function withGauge(
  readings: readonly Reading[],
  features: readonly Feature[],
  { gauge, resolutionMm }: ReadingsForm,
): readonly Reading[] {
  if (gauge === undefined && resolutionMm === undefined) return readings;
  const lengths = new Set(features.filter((feature) => 'nominalMm' in feature).map(({ id }) => id));
  // Another step is another gauge, even without a name.
  const isOther = (reading: Reading): boolean =>
    gauge === undefined || (reading.resolutionMm !== undefined && reading.resolutionMm !== resolutionMm);
  return readings.map((reading) =>
    reading.readingMm === undefined || !lengths.has(reading.feature)
      ? reading
      : {
          ...reading,
          ...(isOther(reading) ? {} : { gauge: reading.gauge ?? gauge }),
          resolutionMm: reading.resolutionMm ?? resolutionMm,
        },
  );
}

/** Options over the form that was filled in beside the readings, and that over the project file, which is told where it says otherwise. */
export function withForm<T extends object>(values: T, form: ReadingsForm, io: Io): T {
  const { answered } = io.run;
  const known = values as Readonly<Record<string, Answer>>;
  const told = Object.entries(form).filter(
    ([key, value]) => value !== undefined && (known[key] === undefined || answered.has(key)),
  );
  for (const [key, value] of told) {
    if (known[key] === undefined || alike(known[key], value)) continue;
    const what = key.replace(/Mm$/, ', mm');
    const both = `the readings say ${what}: ${value}, and apertrue.json ${known[key]}`;
    io.say(
      `note: ${visible(both)}. The readings count; if these coupons were cut of that, correct the form at their head.\n`,
    );
  }
  return { ...values, ...Object.fromEntries(told) };
}

async function readSession(file: string, values: SessionValues, io: Io) {
  const { features, date, gaugeLimitMm } = values;
  const parsed = parseReadings(decodeText(await io.readFile(file)), file);
  const { readings, bare, gaugeLimitsMm: ofFile, form, warnings } = parsed;
  for (const warning of warnings) io.say(`note: ${formatProblem(warning)}\n`);
  const path = features ?? (await findFeatures(file, readings, io));
  const found = await loadFeatures(path, io);
  refuseOtherUnit(file, bare, found.features);
  // What was said of the gauges stays with the readings: the next fit must know it too.
  // What the project file says of the gauge gives way to the form of these readings.
  const isAnswered = form.resolutionMm !== undefined && io.run.answered.has('resolutionMm');
  const resolutionMm = isAnswered ? undefined : values.resolutionMm;
  const told = readings.map((reading) => (resolutionMm === undefined ? reading : { resolutionMm, ...reading }));
  const day = date ?? form.date;
  const session: ReadingSession = {
    coupon: found.coupon,
    ...(day ? { date: day } : {}),
    canvas: found.canvas,
    features: found.features,
    readings: withGauge(told, found.features, form),
    ...(Object.keys(ofFile).length > 0 ? { gaugeLimitsMm: ofFile } : {}),
  };
  refuseDesigned(file, session);
  if (gaugeLimitMm === undefined) return { file, session, form };
  const gaugeLimitsMm = {
    ...Object.fromEntries(gaugesIn(session).map((name) => [name, gaugeLimitMm])),
    // What a program that measures says of itself is nearer to the truth than what is said of all gauges.
    ...ofFile,
  };
  return { file, session: { ...session, gaugeLimitsMm }, form };
}

/** Bare numbers are mm by the name of their column; what is evidently something else must not become a machine's scale. */
function refuseOtherUnit(file: string, bare: readonly Reading[], features: readonly Feature[]): void {
  const found = unitOfReadings(bare, features);
  if (!found) return;
  const { unit, name, count, of, example } = found;
  throw new InputError({
    code: 'OTHER_UNIT',
    place: { file, key: 'reading_mm' },
    message: `the numbers are evidently in ${name}: all ${count} ${of} without a unit are the designed ones in ${name}; ${example.feature}, designed ${Number(example.nominalMm.toFixed(3))} mm, reads ${example.value}.`,
    hint: `Write the unit behind each number (${example.value}${unit}), or convert them to mm. If the film did come out like that, write mm behind each number.`,
  });
}

/** So many readings are never the designed values by chance. */
const LEAST_DESIGNED = 8;
/** As the worksheet and the form print them. */
const PRINTED_DIGITS = 2;

/** What the form prints beside a feature is no reading: a ladder filled in so had a kerf of 0, beside a ruler that told 0.1 mm. */
function refuseDesigned(file: string, session: ReadingSession): void {
  const read = lengthsReadIn(session).filter(({ uncertaintyMm }) => uncertaintyMm === undefined);
  const isPrinted = ({ readingMm, feature: { nominalMm } }: (typeof read)[number]): boolean =>
    Math.abs(readingMm - nominalMm) < 1e-6 ||
    readingMm.toFixed(6) === Number(nominalMm.toFixed(PRINTED_DIGITS)).toFixed(6);
  // Spans hold no kerf: on a machine that is right they may all read as designed in a coarse hand.
  const hasKerf = read.some(({ feature: { kind } }) => kind !== 'span');
  if (read.length < LEAST_DESIGNED || !hasKerf || !read.every(isPrinted)) return;
  throw new InputError({
    code: 'DESIGNED_VALUES',
    place: { file, key: 'reading_mm' },
    message: `all ${read.length} readings are the designed values, to the last digit: no hand and no film does that.`,
    hint: 'Type what the gauge shows on the film, not what the form says that it is about.',
  });
}

export async function loadFeatures(path: string, io: Io): Promise<FeaturesFile> {
  return parseFeatures(decodeText(await io.readFile(path)), path);
}

/** NAME.features.json for NAME.readings.csv, NAME.places.csv or NAME.csv; else the only one in the folder that knows all features read. */
async function findFeatures(file: string, readings: readonly Reading[], io: Io): Promise<string> {
  const folder = dirname(file);
  const stem = basename(file).replace(/\.[^.]*$/, '');
  const names = [stem.replace(/\.(readings|places).*$/i, ''), stem];
  for (const name of new Set(names)) {
    const path = join(folder, `${name}.features.json`);
    if (await io.exists(path)) return path;
  }
  const fitting: string[] = [];
  for (const path of await io.expand(join(folder, '*.features.json'))) {
    if ((await io.exists(path)) && (await knowsAll(path, readings, io))) fitting.push(path);
  }
  if (fitting.length === 1) return fitting[0];
  throw new InputError({
    code: 'FEATURES_NOT_FOUND',
    place: { file },
    message: `the features file ${names[0]}.features.json is not beside it.`,
    hint: 'Put it there, or give its name with --features.',
  });
}

async function knowsAll(path: string, readings: readonly Reading[], io: Io): Promise<boolean> {
  try {
    const { features } = await loadFeatures(path, io);
    const ids = new Set(features.map(({ id }) => id));
    return readings.length > 0 && readings.every(({ feature }) => ids.has(feature));
  } catch {
    return false;
  }
}

/** Splits the files into readings and places of marks, and reads the latter. */
export async function readPlaces(
  patterns: readonly string[],
  io: Io,
): Promise<{ readonly readings: readonly string[]; readonly films: readonly FilmPlaces[] }> {
  // A pattern that matches nothing is told of where readings are read.
  const named = await Promise.all(
    patterns.map(async (pattern) => {
      const files = await io.expand(pattern);
      return files.length === 0 ? [pattern] : [...new Set(files)];
    }),
  );
  const read = await allOf(named.flat(), async (file) => {
    const text = await io.readFile(file).then(decodeText, () => '');
    return isPlaces(text) ? filmOf(text, file, io) : file;
  });
  return {
    readings: read.filter((one) => typeof one === 'string'),
    films: read.filter((one) => typeof one !== 'string'),
  };
}

async function filmOf(text: string, file: string, io: Io): Promise<FilmPlaces> {
  const marks = parsePlaces(text, file);
  const path = await findFeatures(file, [], io);
  const { coupon, canvas } = await loadFeatures(path, io);
  return { coupon, canvas, marks };
}
