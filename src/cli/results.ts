import { createHash } from 'node:crypto';
import { basename, dirname, join } from 'node:path';
import { InputError, type Problem, refuseAll, type Warning } from '../errors.js';
import { type Mark, markIn } from '../export/export-formats.js';
import { decodeText } from '../readings/csv-rows.js';
import { parseReadings } from '../readings/parse-readings.js';
import type { Reading } from '../readings/types.js';
import type { Report } from '../report/document/blocks.js';
import type { Chart } from '../report/plots/chart.js';
import { firstOf, visible } from '../text.js';
import type { Io } from './io.js';
import { type Content, chunksOf } from './write-together.js';

/** A file of a command's results, not yet written. */
export interface OutputFile {
  readonly name: string;
  readonly bytes: Content;
}

/** Contents under their names, in order; the last ones may be missing. */
export const namedFiles = (names: readonly string[], contents: readonly Content[]): OutputFile[] =>
  contents.map((bytes, i) => ({ name: names[i], bytes }));

interface Where {
  /** Their folder; not given: the names are paths. */
  readonly out?: string;
  readonly overwrite?: boolean;
}

const pathIn = (out: string | undefined, name: string): string => (out === undefined ? name : join(out, name));

/**
 * Refuses before anything is made, which takes long, so that results are never half new and half old.
 *
 * @throws {InputError} WOULD_REPLACE_INPUT, and FILE_EXISTS unless `overwrite`, for each of the names in the folder
 */
export async function refuseResults(names: readonly string[], { out, overwrite }: Where, io: Io): Promise<void> {
  const paths = names.map((name) => pathIn(out, name));
  refuseAll(await io.inTheWay(paths, { overwrite }));
}

/**
 * Makes results and writes them, unless one is in the way.
 *
 * @param make - their contents, in the order of the names; the last ones may be missing
 * @returns their paths
 */
export async function makeResults(
  names: readonly string[],
  where: Where,
  io: Io,
  make: () => Promise<readonly Content[]>,
): Promise<string[]> {
  await refuseResults(names, where, io);
  return writeResults(namedFiles(names, await make()), where, io);
}

/** Writes results that belong together into their folder: all or none. @returns their paths */
export async function writeResults(files: readonly OutputFile[], { out, overwrite }: Where, io: Io): Promise<string[]> {
  const written = files.map(({ name, bytes }) => ({ path: pathIn(out, name), bytes }));
  await io.writeFiles(written, { overwrite });
  return written.map(({ path }) => path);
}

/**
 * Refuses to replace readings files that somebody has filled in: an evening at the bench is in them. Holds under
 * --overwrite too.
 *
 * @param worth - whether readings are worth keeping; any are, if not given
 * @throws {InputError} READINGS_FILLED_IN
 */
export async function refuseFilledReadings(
  names: readonly string[],
  out: string,
  io: Io,
  worth?: (readings: readonly Reading[]) => boolean,
): Promise<void> {
  const problems: Problem[] = [];
  for (const name of names) {
    const path = join(out, name);
    if (name.endsWith('.readings.csv') && (await isFilled(path, io, worth))) {
      problems.push({
        code: 'READINGS_FILLED_IN',
        place: { file: path },
        message: 'the file holds readings, which are never replaced.',
        hint: 'Choose another --out, or move the readings away first.',
      });
    }
  }
  refuseAll(problems);
}

/** Lengths that all come from a scan can be had again from it; outcomes alone may have been confirmed by a person. */
export function notFromScan(readings: readonly Reading[]): boolean {
  const lengths = readings.filter(({ readingMm }) => readingMm !== undefined);
  return (
    readings.length > 0 && (lengths.length === 0 || lengths.some(({ uncertaintyMm }) => uncertaintyMm === undefined))
  );
}

/** A file that can't be read as readings holds something of the user's, too. */
export async function isFilled(
  path: string,
  io: Io,
  worth: (readings: readonly Reading[]) => boolean = (readings) => readings.length > 0,
): Promise<boolean> {
  if (!(await io.exists(path))) return false;
  const text = decodeText(await io.lookAt(path));
  try {
    const { readings, form } = parseReadings(text, path);
    return worth(readings) || Object.keys(form).length > 0;
  } catch (error) {
    if (!(error instanceof InputError)) throw error;
    return error.code !== 'NO_ROWS';
  }
}

/** Endings of a report's files. */
export const REPORT_ENDINGS = ['.report.html', '.report.pdf'] as const;

/** A report as a page and as PDF; the same report gives the same bytes. */
export async function reportFiles(stem: string, report: Report): Promise<OutputFile[]> {
  const [{ reportHtml }, { reportPdf }] = await Promise.all([
    import('../report/document/html.js'),
    import('../report/document/pdf.js'),
  ]);
  const names = REPORT_ENDINGS.map((ending) => `${stem}${ending}`);
  return namedFiles(names, [reportHtml(report), await reportPdf(report)]);
}

/**
 * A JSON text with a line for each entry of its lists, and its end of line, as UTF-8 in parts: a report on 64,000
 * openings is 80 MB, and is never in memory as a whole.
 *
 * @param value - its own lists may be long; nothing else is
 */
export function jsonParts(value: Readonly<Record<string, unknown>>): Iterable<Uint8Array> {
  return { [Symbol.iterator]: () => partsOf(value) };
}

/** Parts are about as long, in units of UTF-16. From 128 KB on memory comes from the system anew each time: three times as slow. */
const LONG = 1 << 16;

function* partsOf(value: Readonly<Record<string, unknown>>): Generator<Uint8Array> {
  let text = '';
  let begin = '{';
  for (const [key, inner] of Object.entries(value)) {
    if (inner === undefined) continue;
    text += `${begin}\n  ${JSON.stringify(key)}: `;
    begin = ',';
    if (!Array.isArray(inner)) {
      text += JSON.stringify(inner, undefined, 2).replaceAll('\n', '\n  ');
      continue;
    }
    let first = '[';
    for (const entry of inner) {
      text += `${first}\n    ${JSON.stringify(entry) ?? null}`;
      first = ',';
      if (text.length < LONG) continue;
      yield Buffer.from(text);
      text = '';
    }
    text += first === '[' ? '[]' : '\n  ]';
  }
  yield Buffer.from(`${text}${begin === '{' ? '{' : '\n'}}\n`);
}

/** Names of the files in which {@link writeCharts} writes a chart. */
export const chartFiles = (name: string): string[] => [`${name}.svg`, `${name}.png`];

/** Writes charts by their names into a folder, where one is given; gives the paths. */
export async function writeCharts(
  { out, overwrite }: Where,
  io: Io,
  draw: () => Promise<ReadonlyMap<string, Chart>>,
): Promise<string[]> {
  if (out === undefined) return [];
  const charts = await draw();
  return makeResults([...charts.keys()].flatMap(chartFiles), { out, overwrite }, io, async () => {
    const { chartPng } = await import('../report/plots/render-chart.js');
    const drawn = [...charts.values()].map(async (chart) => [chart.svg, await chartPng(chart)]);
    return (await Promise.all(drawn)).flat();
  });
}

/** What patterns name, each file once, in order. */
export async function everyFile(patterns: readonly string[], io: Io): Promise<string[]> {
  return takenOnce((await Promise.all(patterns.map((pattern) => io.expand(pattern)))).flat(), (file) => file, io);
}

/** Each of them once; those that were named again are told. */
export function takenOnce<T>(named: readonly T[], nameOf: (one: T) => string, io: Io): T[] {
  const once = [...new Set(named)];
  const again = once.filter((one) => named.indexOf(one) !== named.lastIndexOf(one)).map(nameOf);
  if (again.length > 0) io.say(`note: ${visible(firstOf(again, 6))}: named more than once, and taken once.\n`);
  return once;
}

/** The same, at least one. @throws {InputError} NO_FILES */
export async function expandAll(patterns: readonly string[], io: Io): Promise<string[]> {
  const files = await everyFile(patterns, io);
  if (files.length > 0) return files;
  throw new InputError({
    code: 'NO_FILES',
    message: `no file matches ${patterns.join(' ')}.`,
    hint: 'Check the folder and the name.',
  });
}

/** SHA-256 of a file's content, as sidecars state it. */
export function sha256(content: Content): string {
  const hash = createHash('sha256');
  for (const part of chunksOf(content)) hash.update(part);
  return hash.digest('hex');
}

/** For JSON.stringify: numbers to a picometre, which is beyond any laser and free of the noise of doubles. */
export function roundedNumbers(_key: string, value: unknown): unknown {
  return typeof value === 'number' && !Number.isInteger(value) ? Number(value.toFixed(9)) : value;
}

/** A record beside results (contract 4). Holds no clock and no folder, so that the same inputs give the same bytes. */
export const jobRecord = (stem: string, record: object): OutputFile => ({
  name: `${stem}.job.json`,
  bytes: `${JSON.stringify({ format: 'apertrue-job', version: 1, ...record }, roundedNumbers, 2)}\n`,
});

/** Results as sidecars state them: by name and content. */
export const recordOf = (files: readonly OutputFile[]): { readonly name: string; readonly sha256: string }[] =>
  files.map(({ name, bytes }) => ({ name, sha256: sha256(bytes) }));

/** The parts of a record beside a result that tell what the result is. */
interface JobRecord {
  readonly format?: unknown;
  readonly profile?: { readonly name?: unknown };
  readonly images?: unknown;
  readonly outputs?: readonly { readonly name?: unknown; readonly file?: unknown; readonly sha256?: unknown }[];
}

/**
 * A warning for artwork that is itself a result: corrected already, or a coupon, which is cut as it is. Known by the
 * record beside it that names these very bytes, or by the file's own title.
 */
export async function madeBefore(file: string, bytes: Uint8Array, io: Io): Promise<Warning[]> {
  const name = basename(file);
  let digest: string | undefined;
  for (let end = name.lastIndexOf('.'); end > 0; end = name.lastIndexOf('.', end - 1)) {
    const path = join(dirname(file), `${name.slice(0, end)}.job.json`);
    if (!(await io.exists(path))) continue;
    const job = await recordAt(path, io);
    digest ??= sha256(bytes);
    if (!job?.outputs?.some((output) => (output.name ?? output.file) === name && output.sha256 === digest)) continue;
    const saidBy = `${basename(path)} beside it says so`;
    const laser = job.profile ? `, for the profile ${JSON.stringify(job.profile.name)}` : '';
    if (job.profile ?? job.images) return [warningBy(job.profile ? 'corrected' : 'coupon', file, saidBy, laser)];
  }
  const mark = markIn(bytes);
  return mark ? [warningBy(mark, file, 'its title says so', '')] : [];
}

async function recordAt(path: string, io: Io): Promise<JobRecord | undefined> {
  try {
    const job: unknown = JSON.parse(new TextDecoder().decode(await io.lookAt(path)));
    const record = typeof job === 'object' && job !== null ? (job as JobRecord) : undefined;
    return record?.format === 'apertrue-job' && Array.isArray(record.outputs) ? record : undefined;
  } catch {
    // Somebody else's file of that name is no record.
    return undefined;
  }
}

function warningBy(mark: Mark, file: string, saidBy: string, laser: string): Warning {
  const place = { file };
  if (mark === 'coupon') {
    return {
      code: 'IS_COUPON',
      place,
      message: `this is a coupon (${saidBy}): coupons are cut as they are, or they say nothing about the machine.`,
      hint: 'Cut the file that `coupon` made.',
    };
  }
  return {
    code: 'ALREADY_CORRECTED',
    place,
    message: `this is corrected already${laser} (${saidBy}): corrected again, its openings come out too narrow by the kerf.`,
    hint: 'Give the artwork it was made from.',
  };
}
