import { basename, dirname, join } from 'node:path';
import type { Feature, FeaturesFile } from '../../coupon/features.js';
import { parseFeatures } from '../../coupon/parse-features.js';
import { formatProblem, InputError, type Problem } from '../../errors.js';
import { unitOfReadings } from '../../fit/calibration/unit-of-readings.js';
import type { ReadingSession } from '../../machine/types.js';
import { decodeText } from '../../readings/decode-text.js';
import { parseReadings } from '../../readings/parse-readings.js';
import type { Reading } from '../../readings/types.js';
import type { Io } from '../io.js';

/** Reads readings files with the features files that belong to them; problems of all files are told together. */
export async function readSessions(
  patterns: readonly string[],
  values: { readonly features?: string; readonly date?: string },
  io: Io,
): Promise<ReadingSession[]> {
  const files = [...new Set((await Promise.all(patterns.map((pattern) => io.expand(pattern)))).flat())];
  const problems: Problem[] = [];
  if (files.length === 0) {
    problems.push({
      code: 'NO_FILES',
      message: `no file matches ${patterns.join(' ')}.`,
      hint: 'Check the folder and the name.',
    });
  }
  const sessions: ReadingSession[] = [];
  for (const file of files) {
    try {
      sessions.push(await readSession(file, values, io));
    } catch (error) {
      if (!(error instanceof InputError)) throw error;
      for (const problem of error.problems) problems.push(problem);
    }
  }
  if (problems.length > 0) throw new InputError(problems);
  return sessions;
}

async function readSession(
  file: string,
  { features, date }: { readonly features?: string; readonly date?: string },
  io: Io,
): Promise<ReadingSession> {
  const { readings, bare, warnings } = parseReadings(decodeText(await io.readFile(file)), file);
  for (const warning of warnings) io.say(`note: ${formatProblem(warning)}\n`);
  const path = features ?? (await findFeatures(file, readings, io));
  const found = parseFeatures(decodeText(await io.readFile(path)), path);
  refuseOtherUnit(file, bare, found.features);
  return { coupon: found.coupon, ...(date ? { date } : {}), canvas: found.canvas, features: found.features, readings };
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

/** NAME.features.json for NAME.readings.csv or NAME.csv; else the only one in the folder that knows all features read. */
async function findFeatures(file: string, readings: readonly Reading[], io: Io): Promise<string> {
  const folder = dirname(file);
  const stem = basename(file).replace(/\.[^.]*$/, '');
  const names = [stem.replace(/\.readings.*$/i, ''), stem];
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
    const found: FeaturesFile = parseFeatures(decodeText(await io.readFile(path)), path);
    const ids = new Set(found.features.map(({ id }) => id));
    return readings.length > 0 && readings.every(({ feature }) => ids.has(feature));
  } catch {
    return false;
  }
}
